"""One try in a student's words: what happened, and one thing to do. Never a number of cents."""

from __future__ import annotations

from dataclasses import dataclass

from django.utils.translation import gettext as _

from analysis.core.words import all_words
from assignments import moments
from assignments.models import Try
from assignments.naming import note_said, outcome_word, tone_said


@dataclass(frozen=True, slots=True)
class Said:
    happened: str
    to_do: str


def said(row: Try) -> Said:
    """For a miss its first must-have, for what couldn’t be heard the first reason; nothing to say of a hit."""
    codes = {
        Try.Outcome.MISS: moments.codes(row.checks),
        Try.Outcome.UNREADABLE: tuple(row.reasons),
        Try.Outcome.HIT: (),
    }[Try.Outcome(row.outcome)]
    words = next((all_words()[code] for code in codes if code in all_words()), None)
    return Said(_(words.student) if words else "", _(words.do) if words and words.do else "")


def picture(row: Try, beats: tuple[int, ...]) -> str:
    """A strip for those who don’t see it: “C sharp 5, very soft. Not yet. The pitch climbs. Listen on beat 5, 6.”"""
    parts = [f"{note_said(row.written_midi)}, {tone_said(row.tone)}.", f"{outcome_word(row.outcome).capitalize()}."]
    happened = said(row).happened
    if happened:
        parts.append(happened)
    if beats and row.outcome == Try.Outcome.MISS:
        parts.append(_("Listen on beat %(beats)s.") % {"beats": ", ".join(str(beat) for beat in beats)})
    return " ".join(parts)
