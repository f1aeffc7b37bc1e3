"""The day after a break: the middle of the horn, medium levels, a few tones. Nothing is caught up."""

from __future__ import annotations

from assignments.planner.history import History, Table
from assignments.planner.records import Planned

AWAY_DAYS = 8  # last play this many days ago or more
LONGEST = 12
_EASY = ("mf", "f")


def easy_day(table: Table, history: History, slots: int) -> list[Planned]:
    """Up to twelve tones in playing order: notes in turn, the longest-unplayed tone of each."""
    tones = [place for place, tone in enumerate(table.tones) if tone in _EASY] or list(range(len(table.tones)))
    count, strides = len(table.tones), table.strides()
    turn = sorted(_middle(table), key=lambda note: (history.note_days[note], strides[note]))
    waiting: dict[int, list[int]] = {}
    for place, note in enumerate(turn):
        shifted = [note * count + tones[(place + step) % len(tones)] for step in range(len(tones))]
        waiting[note] = sorted(shifted, key=history.played.__getitem__)
    planned = []
    for visit in range(min(slots, LONGEST)):
        of_note = waiting[turn[visit % len(turn)]]
        cell = of_note[visit // len(turn) % len(of_note)]
        planned.append(Planned(table.notes[table.note_of(cell)], table.tones[table.tone_of(cell)], "focus", "easy"))
    return planned


def _middle(table: Table) -> list[int]:
    """The notes that lie in the middle half of the table with their whole width; if those are fewer than two, the ones
    that reach into it."""
    count = len(table.notes)
    inside = [note for note in range(count) if 4 * note >= count and 4 * (note + 1) <= 3 * count]
    return (
        inside
        if len(inside) > 1
        else [note for note in range(count) if 4 * (note + 1) > count and 4 * note < 3 * count]
    )
