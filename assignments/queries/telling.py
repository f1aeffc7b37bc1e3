"""Filling in the words of a code for one try: the note's name, its mark, the beats where it shows."""

from __future__ import annotations

from django.utils.translation import gettext as _

from analysis.core.records import Tone
from analysis.core.words import Words, all_words
from assignments.exercises import LEVELS
from assignments.models import Try
from assignments.naming import note_placed_short, tone_said
from assignments.spelled import capital


def told(code: str, row: Try, tone: Tone | None) -> Words | None:
    """The words of ``code`` about ``row``, in the reader's language; None for a code without words."""
    words = all_words().get(code)
    if words is None:
        return None
    places = {
        "note": note_placed_short(row.written_midi),
        "level": row.tone if row.tone in LEVELS else tone_said(row.tone),
        "beats": _beats(code, row, tone),
    }
    student, to_do, teacher = (
        capital(_(text).format_map(places)) if text else "" for text in (words.student, words.do, words.teacher)
    )
    return Words(student, to_do, teacher)


def _beats(code: str, row: Try, tone: Tone | None) -> str:
    """``beats 5 and 6``, counted from where the tone starts."""
    place = next((check["at_s"] for check in row.checks if check.get("code") == code and check.get("at_s")), None)
    if place is None or tone is None:
        return _("some beats")
    beat_s = row.take.exercise.week.beat_s
    first, last = (max(1, int((at_s - tone.start_s) / beat_s) + 1) for at_s in (place[0], place[1] - 0.001))
    if first >= last:
        return _("beat %(first)d") % {"first": first}
    if last == first + 1:
        return _("beats %(first)d and %(last)d") % {"first": first, "last": last}
    return _("beats %(first)d to %(last)d") % {"first": first, "last": last}
