"""Days on which the gate is paused are cut out of the calendar; spells of a teacher's word.

Inside the gate a day is its ordinal number (``date.toordinal``), which subtracts and compares quickly.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from typing import NamedTuple

from assignments.gate.records import Decision


class Held(NamedTuple):
    """A decision that holds from its own day through ``last``. ``until``: its own end, None if it has none."""

    kind: str
    first: int
    last: int
    until: int | None


def held(decisions: Iterable[Decision], kinds: frozenset[str], today: int) -> list[Held]:
    """The spells of the named decisions up to ``today``, oldest first, never overlapping.

    Each lasts through its end, or until the next of its kinds or a ``resume``; a replaced one does not come back.
    ``decisions`` are in order and none is later than ``today``.
    """
    spells: list[Held] = []
    current: Held | None = None
    for on, kind, until in decisions:
        if kind not in kinds and kind != "resume":
            continue
        day = on.toordinal()
        if current is not None and day > current.first:
            spells.append(current._replace(last=min(current.last, day - 1)))
        current = None
        if kind in kinds:
            end = until.toordinal() if until is not None else None
            current = Held(kind, day, min(today, end) if end is not None else today, end)
    if current is not None:
        spells.append(current)
    return spells


class Calendar:
    """The days that count. ``index`` numbers them without gaps; a paused day has the index of the day before it."""

    def __init__(self, pauses: Sequence[Held]) -> None:
        self._firsts = [pause.first for pause in pauses]
        self._lasts = [pause.last for pause in pauses]
        self._cut = [0]
        for pause in pauses:
            self._cut.append(self._cut[-1] + pause.last - pause.first + 1)

    def is_paused(self, day: int) -> bool:
        if not self._firsts:
            return False
        place = bisect_right(self._firsts, day)
        return place > 0 and day <= self._lasts[place - 1]

    def index(self, day: int) -> int:
        """How many unpaused days there are up to and with ``day``."""
        if not self._firsts:
            return day
        place = bisect_right(self._firsts, day)
        if place == 0:
            return day
        return day - self._cut[place] + max(0, self._lasts[place - 1] - day)

    def day(self, index: int) -> int:
        """The unpaused day with this index."""
        day = index
        for first, last in zip(self._firsts, self._lasts, strict=True):
            if first > day:
                break
            day += last - first + 1
        return day
