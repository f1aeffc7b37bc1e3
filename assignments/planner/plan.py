"""The tones of one day, from the history before it."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from datetime import date

from assignments.planner.coverage import bounds, cover, coverage_slots, lane_of, oldest
from assignments.planner.easy import AWAY_DAYS, easy_day
from assignments.planner.focus import Wishes, fill
from assignments.planner.history import History, Table
from assignments.planner.records import TONES, DayPlan, Planned, Play
from assignments.planner.weakness import random_of, weakness

MOST_SLOTS = 240


def plan(
    plays: Iterable[Play],
    *,
    on: date,
    lowest_written: int,
    highest_written: int,
    slots: int,
    seed: int,
    tones: Collection[str] = TONES,
    pins: Sequence[tuple[int, str]] = (),
    excluded: Collection[int] = (),
) -> DayPlan:
    """The plan of day ``on``: the same before, during and after it, on every machine.

    ``plays`` of one day in playing order, days in any order; those of ``on`` or later, and those outside the table of
    notes by tones, are passed over. ``pins``: (written_midi, tone), the teacher's picks. ``slots``: 1 to 240.
    Raises NothingToPlanError when no note or no tone is left.
    """
    if not 1 <= slots <= MOST_SLOTS:
        raise ValueError(f"a day has 1 to {MOST_SLOTS} slots, not {slots}")
    table = Table(lowest_written, highest_written, tones, excluded)
    history = History(table, plays, on)
    if history.last_on is not None and (on - history.last_on).days >= AWAY_DAYS:
        planned = easy_day(table, history, slots)
    else:
        planned = _full_day(table, history, on, slots, seed, pins)
    return DayPlan(tuple(planned), bounds(table, slots), oldest(history))


def _full_day(
    table: Table, history: History, on: date, slots: int, seed: int, pins: Sequence[tuple[int, str]]
) -> list[Planned]:
    lanes = [lane_of(slot) for slot in range(slots)]
    places = [slot for slot, lane in enumerate(lanes) if lane == "coverage"]
    covered = dict(zip(places, cover(table, history, coverage_slots(slots)), strict=True))
    wanted = {cell for pin in pins if (cell := table.cell(*pin)) is not None}
    draws = weakness(table, history, random_of(seed, on))
    wishes = Wishes(
        pins=sorted(wanted, key=lambda cell: (history.played[cell], cell)),
        again=history.asked_again(),
        weakest=sorted(range(table.cells), key=draws.__getitem__),
    )
    day = fill(table, history, slots, covered, wishes)
    return [
        Planned(
            table.notes[table.note_of(cell)],
            table.tones[table.tone_of(cell)],
            lanes[slot],
            day.why.get(slot, "oldest"),
        )
        for slot, cell in enumerate(day.cells)
        if cell is not None
    ]
