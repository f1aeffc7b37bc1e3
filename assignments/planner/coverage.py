"""The coverage lane: the notes take turns, and of each note the longest-unplayed tone. Nothing else moves it.

That is what the bounds rest on. N notes of K tones: a note just covered is the newest, so none comes twice among N
coverage slots; and of a note with K tones only K - 1 can be older than the one just played, each visit plays one of
them, and plays outside this lane can only make them younger. So a note returns within N coverage slots and a tone
within N x K. The turn moves on coverage plays alone: if it moved on focus plays too, a note practised daily in the
focus lane would never be covered again, and its other tones would starve.
"""

from __future__ import annotations

from assignments.planner.history import History, Table
from assignments.planner.records import Lane, Waits

_FIRST_TONES = ("mf", "f", "mp", "swell", "p", "ff", "stepped", "pp", "reverse_swell", "fff", "ppp")


def lane_of(slot: int) -> Lane:
    """The lane of a slot, from 0: three in five are coverage, the first always is. C C F C F and over again."""
    return "coverage" if _ceil(3 * (slot + 1), 5) > _ceil(3 * slot, 5) else "focus"


def coverage_slots(slots: int) -> int:
    """How many of a day's slots are coverage."""
    return _ceil(3 * slots, 5)


def bounds(table: Table, slots: int) -> Waits:
    """The longest that a note and a tone wait, in practice days of full sessions."""
    covered = coverage_slots(slots)
    return Waits(_ceil(len(table.notes), covered), _ceil(table.cells, covered))


def oldest(history: History) -> Waits:
    """How long the oldest note and tone have waited by now: 1 + the practice days since. Never played: since ever."""
    return Waits(
        1 + history.practice_days - min(history.note_days),
        1 + history.practice_days - min(history.cell_days),
    )


def cover(table: Table, history: History, count: int) -> list[int]:
    """The cells of a day's coverage slots, in order, from the history alone.

    Notes never covered come first, in the order of ``Table.strides``. Tones of a note that were never played come in
    an order that starts in the middle of the loudness and is shifted from note to note, so that a first day is varied.
    """
    places = table.strides()
    turn = sorted(range(len(table.notes)), key=lambda note: (history.covered[note], places[note]))
    first = sorted(range(len(table.tones)), key=lambda tone: _FIRST_TONES.index(table.tones[tone]))
    rank = {tone: place for place, tone in enumerate(first)}
    waiting: dict[int, list[int]] = {}
    chosen = []
    for visit in range(count):
        note = turn[visit % len(turn)]
        if note not in waiting:
            cells = range(note * len(table.tones), (note + 1) * len(table.tones))
            waiting[note] = sorted(
                cells,
                key=lambda cell: (
                    history.played[cell],
                    (rank[table.tone_of(cell)] - places[table.note_of(cell)]) % len(first),
                ),
            )
        of_note = waiting[note]
        chosen.append(of_note[visit // len(turn) % len(of_note)])
    return chosen


def _ceil(numerator: int, denominator: int) -> int:
    return -(-numerator // denominator)
