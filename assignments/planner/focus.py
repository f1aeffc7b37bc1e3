"""The focus lane: the teacher's picks, then tones that could not be read, then the weakest, in an order fit to play."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import chain

from assignments.planner.day import Day, Limits
from assignments.planner.history import History, Table
from assignments.planner.pins import place_pins
from assignments.planner.room import Room
from assignments.planner.weakness import hope


@dataclass(frozen=True, slots=True)
class Wishes:
    """What the focus lane chooses from: cells, in the order in which they are wanted."""

    pins: Sequence[int]
    again: Sequence[int]
    weakest: Sequence[int]


# From the strictest reading of "no note more than three times a day, no word too often" to none at all: a range too
# small for one, or picks that use it up, give way to the next.
_LEVELS = (Limits(True, True), Limits(False, True), Limits(False, False))


def fill(table: Table, history: History, slots: int, covered: Mapping[int, int], wishes: Wishes) -> Day:
    """A day with every focus slot filled. ``covered``: {slot: cell} of the coverage lane."""
    for limits in _LEVELS:
        day = _filled(_with_pins(table, slots, covered, wishes.pins, limits), wishes)
        if day is None:
            day = _filled_with_foresight(_with_pins(table, slots, covered, wishes.pins, limits), wishes)
        if day is not None:
            break
    else:
        day = _with_pins(table, slots, covered, wishes.pins, _LEVELS[-1])
        for slot in day.free():
            day.put(slot, _least_faulty(day, slot, wishes)[0], "needs_work")
    _hopeful_last(day, history, set(wishes.again))
    return day


def _with_pins(table: Table, slots: int, covered: Mapping[int, int], pins: Sequence[int], limits: Limits) -> Day:
    day = Day(table, slots, covered, limits)
    wanted = [pin for pin in pins if not day.is_used(pin)]
    for slot, pin in place_pins(wanted, day.free(), day.fits).items():
        day.put(slot, pin, "teacher")
    return day


def _filled(day: Day, wishes: Wishes) -> Day | None:
    """Slot by slot the most wanted tone without a fault; None when a slot has none, late on a long day of few notes."""
    for slot in day.free():
        cell = next(_faultless(day, slot, wishes), None)
        if cell is None:
            return None
        day.put(slot, cell, "needs_work")
    return day


def _filled_with_foresight(day: Day, wishes: Wishes) -> Day | None:
    """The same, each choice leaving room for the rest of the day; None when notes or words cannot last."""
    count = len(day.table.tones)
    room = Room(
        day.free(),
        day.notes_left(),
        day.words_left(),
        slot_allows=lambda slot, note: day.fits(note * count, slot),
        is_unused=lambda note, word: not day.is_used(note * count + word),
    )
    if not room.is_enough:
        return None
    for slot in day.free():
        choices = chain(_faultless(day, slot, wishes), _least_faulty(day, slot, wishes))
        cell = next(cell for cell in choices if room.take(slot, day.table.note_of(cell), day.table.tone_of(cell)))
        day.put(slot, cell, "needs_work")
    return day


def _faultless(day: Day, slot: int, wishes: Wishes) -> Iterator[int]:
    """The cells without a fault in this slot, most wanted first; weak ones that clash with a neighbour come last."""
    clashing: list[int] = []
    for place, cell in enumerate(chain(wishes.again, wishes.weakest)):
        if not day.fits(cell, slot) or any(day.faults(cell, slot)):
            continue
        if place >= len(wishes.again) and day.clashes(cell, slot):
            clashing.append(cell)
        else:
            yield cell
    yield from clashing


def _least_faulty(day: Day, slot: int, wishes: Wishes) -> list[int]:
    """Every cell that may stand in this slot, the least faulty first; of equals the most wanted."""
    fitting = [cell for cell in chain(wishes.again, wishes.weakest) if day.fits(cell, slot)]
    return sorted(fitting, key=lambda cell: (day.faults(cell, slot), day.clashes(cell, slot)))


def _hopeful_last(day: Day, history: History, again: set[int]) -> None:
    """End on the likeliest hit of the weak tones, if it and the last of them can change places."""
    weak = {slot: cell for slot, cell in enumerate(day.cells) if cell is not None and day.why.get(slot) == "needs_work"}
    slots = [slot for slot, cell in weak.items() if cell not in again]
    if not slots:
        return
    last = slots[-1]
    for slot in sorted(slots, key=lambda slot: -hope(day.table, history, weak[slot])):
        if slot == last or _swapped(day, slot, last):
            return


def _swapped(day: Day, one: int, other: int) -> bool:
    """Change the cells of two slots, if both stand well in their new places; else leave them and say False."""
    cells = day.cells
    cells[one], cells[other] = cells[other], cells[one]
    for slot in (one, other):
        cell = cells[slot]
        if cell is None or not day.fits(cell, slot) or day.runs_on(cell, slot) or day.clashes(cell, slot):
            cells[one], cells[other] = cells[other], cells[one]
            return False
    return True
