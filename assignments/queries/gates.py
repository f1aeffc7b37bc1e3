"""One student's three gates: where each stands and why, and everything that was decided about them."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import gate, stages, standings, words
from assignments.queries import log, rules
from assignments.queries.whose import OfOneHorn
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class GateView:
    stage: int
    title: str
    standing: gate.Standing
    below_open: bool
    asks_from: dt.date | None = None  # the rule is met, and the stage below is to be played for longer first

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
        if self.is_ready and self.asks_from:
            asked = _("From %(day)s on you are asked to listen: a fortnight on the stage below comes first.")
            return (asked % {"day": date_words(self.asks_from, "j F")}, _("You may listen earlier."))
        return words.reasons(self.standing, "teacher") if self.below_open or self.standing.is_open else ()


@dataclass(frozen=True, slots=True)
class GatesPage(OfOneHorn):
    horn: Horn
    on: dt.date
    line: str
    gates: tuple[GateView, ...]
    log: tuple[log.LogEntry, ...]
    rule: tuple[str, ...]  # in sentences


def gates(horn: Horn, on: dt.date) -> GatesPage:
    """A fixed number of queries."""
    ladder = standings.ladders([horn], on)[horn.pk]
    return GatesPage(
        horn=horn,
        on=on,
        line=stages.line(ladder, on),
        gates=tuple(
            GateView(
                stage,
                title,
                ladder[stage],
                all(ladder[below].state == "open" for below in range(1, stage)),
                standings.asks_later(ladder, stage, on),
            )
            for stage, title in stages.titles()
        ),
        log=log.entries(horn, ladder),
        rule=rules.page(horn.studio, horn).now,
    )
