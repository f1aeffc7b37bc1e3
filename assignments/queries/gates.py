"""One student's three gates: where each stands and why, and everything that was decided about them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _

from assignments import gate, stages, standings, words
from assignments.queries import log, rules
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
    def state_words(self) -> str:
        if not self.below_open and not self.standing.is_open:
            return _("Waits for the stage below it.")
        return words.headline(self.standing, "teacher")

    @property
    def reasons(self) -> tuple[str, ...]:
        return words.reasons(self.standing, "teacher") if self.below_open or self.standing.is_open else ()


@dataclass(frozen=True, slots=True)
class GatesPage:
    horn: Horn
    on: dt.date
    line: str
    gates: tuple[GateView, ...]
    log: tuple[log.LogEntry, ...]
    rule: tuple[str, ...]  # in sentences

    @property
    def name(self) -> str:
        return str(self.horn.player.user)

    @property
    def first_name(self) -> str:
        return self.horn.player.user.get_short_name()


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
        rule=rules.page(horn.studio, horn).now,
    )
