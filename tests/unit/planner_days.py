"""A student who practises by the plan, more or less, for the tests of the planner. Day 0 is 1 January 2026."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta
from random import Random

from hypothesis import HealthCheck, settings

from assignments import planner
from assignments.planner import TONES, Planned, Play

DAY_0 = date(2026, 1, 1)
LOWEST = 58
Cell = tuple[int, str]


def day(number: int) -> date:
    return DAY_0 + timedelta(days=number)


def plan(plays: Sequence[Play] = (), on: int = 0, notes: int = 33, slots: int = 20, **more: object) -> planner.DayPlan:
    """The plan of day ``on`` for a range of so many notes from low B flat up."""
    wanted = {"on": day(on), "lowest_written": LOWEST, "highest_written": LOWEST + notes - 1, "slots": slots, "seed": 7}
    return planner.plan(plays, **(wanted | more))  # type: ignore[arg-type]


def cells(tones: Sequence[Planned], lane: str | None = None) -> list[Cell]:
    return [(tone.written_midi, tone.tone) for tone in tones if lane in (None, tone.lane)]


def examples(count: int) -> settings:
    """So many random examples, however long each takes on a busy machine."""
    return settings(max_examples=count, deadline=None, suppress_health_check=list(HealthCheck))


def ceil(numerator: int, denominator: int) -> int:
    return -(-numerator // denominator)


@dataclass
class Student:
    """Plays plan after plan and keeps count of how many planned slots lie between two plays of a note or a tone."""

    notes: int = 33
    slots: int = 20
    tones: Sequence[str] = TONES
    seed: int = 7
    outcome: Callable[[Cell], str] = lambda cell: "hit"
    plays: list[Play] = field(default_factory=list)
    today: int = 0
    slots_played: int = 0
    widest_note: int = 0
    widest_tone: int = 0

    def __post_init__(self) -> None:
        self._seen: dict[int | Cell, int] = {}
        for note in range(LOWEST, LOWEST + self.notes):
            self._seen |= {note: 0} | {(note, tone): 0 for tone in self.tones}

    def plan(self, pins: Sequence[Cell] = ()) -> planner.DayPlan:
        more = {"tones": self.tones, "seed": self.seed, "pins": pins}
        return plan(self.plays, self.today, self.notes, self.slots, **more)

    def practise(self, planned: Sequence[Planned]) -> None:
        """Play these slots, in order; what is left out of a day's plan was cut off."""
        for tone in planned:
            self.slots_played += 1
            self._mark((tone.written_midi, tone.tone))
            self._play((tone.written_midi, tone.tone), tone.lane)

    def play_freely(self, cell: Cell) -> None:
        """Outside the plan: a play, but not a planned slot."""
        self._mark(cell)
        self._play(cell, None)

    def next_day(self, skip: int = 0) -> None:
        self.today += 1 + skip

    def stop(self) -> None:
        """Whatever was not played up to now has waited until now."""
        for waiting in self._seen:
            self._mark(waiting)

    def _play(self, cell: Cell, lane: planner.Lane | None) -> None:
        self.plays.append(Play(day(self.today), *cell, self.outcome(cell), lane))

    def _mark(self, waiting: int | Cell) -> None:
        gap = self.slots_played - self._seen[waiting]
        self._seen[waiting] = self.slots_played
        if isinstance(waiting, int):
            self.widest_note = max(self.widest_note, gap)
        else:
            self.widest_tone = max(self.widest_tone, gap)
            self._mark(waiting[0])


def shuffled_days(plays: Sequence[Play], chance: Random) -> list[Play]:
    """The same plays with their days in another order; each day's own order is kept."""
    days: dict[date, list[Play]] = {}
    for play in plays:
        days.setdefault(play.on, []).append(play)
    order = list(days)
    chance.shuffle(order)
    return [play for on in order for play in days[on]]
