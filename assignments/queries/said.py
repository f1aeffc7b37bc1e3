"""One try in a student's words: what happened, and one thing to do. Never a number of cents."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analysis.core.records import Tone
from assignments import moments
from assignments.models import Try
from assignments.naming import note_said, outcome_word, tone_said
from assignments.queries.telling import told
from assignments.signs import spoken


@dataclass(frozen=True, slots=True)
class Said:
    happened: str
    to_do: str


def said(row: Try, tone: Tone | None = None) -> Said:
    """For a miss its first must-have, for what couldn’t be heard the first reason; nothing to say of a hit."""
    codes = {
        Try.Outcome.MISS: moments.codes(row.checks),
        Try.Outcome.UNREADABLE: tuple(row.reasons),
        Try.Outcome.HIT: (),
    }[Try.Outcome(row.outcome)]
    words = next((words for code in codes if (words := told(code, row, tone))), None)
    return Said(words.student, words.do) if words else Said("", "")


def picture(row: Try, beats: tuple[int, ...], tone: Tone | None = None) -> str:
    """A strip for those who don’t see it: “C sharp 5, very soft. Not yet. The pitch climbs. Listen on beat 5, 6.”"""
    parts = [f"{note_said(row.written_midi)}, {tone_said(row.tone)}.", f"{outcome_word(row.outcome).capitalize()}."]
    happened = said(row, tone).happened
    if happened:
        parts.append(spoken(happened))
    if beats and row.outcome == Try.Outcome.MISS:
        parts.append(_("Listen on beat %(beats)s.") % {"beats": ", ".join(str(beat) for beat in beats)})
    return " ".join(parts)
