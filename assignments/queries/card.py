"""The practice card: what do I play without a phone?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from analysis.core.records import Target
from assignments import builds, plans, targets, weeks
from assignments.exercises import Slot
from assignments.models import Week
from assignments.queries.whose import OfOneHorn
from studio.models import Horn

DAYS = 7
TONES = 20  # a day: more don't stay readable on one sheet; with a phone there may be more


@dataclass(frozen=True, slots=True)
class CardDay:
    on: dt.date
    tones: tuple[Slot, ...]


@dataclass(frozen=True, slots=True)
class CardPage(OfOneHorn):
    horn: Horn
    build: str
    week: Week | None
    target: Target | None  # of a plain tone at mf
    days: tuple[CardDay, ...]  # none: no week is set, or it is long over


def page(horn: Horn, first: dt.date) -> CardPage:
    """Seven days from ``first`` on, as the planner lays them if each is played. Queries: a few a day."""
    week = weeks.in_force(horn, first)
    laid = plans.ahead(horn, first, DAYS, TONES)
    return CardPage(
        horn=horn,
        build=builds.words(horn),
        week=week,
        target=targets.held(horn, first) if week else None,
        days=tuple(CardDay(on, tones) for on, tones in laid),
    )
