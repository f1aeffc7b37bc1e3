"""One student's three gates: where each stands and why, and everything that was decided about them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from assignments import gate, stages, standings
from assignments.queries import log
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class GateView:
    stage: int
    title: str
    standing: gate.Standing
    below_open: bool

    @property
    def is_ready(self) -> bool:
        return self.below_open and self.standing.state == "ready"

    @property
    def by_hand(self) -> bool:
        return bool({"teacher_opened", "teacher_shut"} & set(self.standing.reasons))


@dataclass(frozen=True, slots=True)
class GatesPage:
    horn: Horn
    on: dt.date
    line: str
    gates: tuple[GateView, ...]
    log: tuple[log.LogEntry, ...]

    @property
    def first(self) -> gate.Standing:
        return self.gates[0].standing

    @property
    def paused(self) -> bool:
        return self.first.state == "paused"


def gates(horn: Horn, on: dt.date) -> GatesPage:
    """A fixed number of queries."""
    ladder = standings.ladders([horn], on)[horn.pk]
    return GatesPage(
        horn=horn,
        on=on,
        line=stages.line(ladder, on),
        gates=tuple(
            GateView(stage, title, ladder[stage], all(ladder[below].state == "open" for below in range(1, stage)))
            for stage, title in stages.titles()
        ),
        log=log.entries(horn, ladder),
    )
