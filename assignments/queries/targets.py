"""One student's targets: what holds, what was moved for which note and tone, and when."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.formats import number_format

from analysis.core.records import Target
from analysis.core.targets import LEVELS, rows
from assignments import gate_rules, limits, targets, weeks
from assignments.exercises import Slot
from assignments.models import TargetChange
from assignments.queries.whose import OfOneHorn
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class Line:
    """One target for every note: the table's three levels, and what holds for this student."""

    measure: targets.Measure
    table: tuple[str, ...]  # beginner, intermediate, advanced
    now: str
    is_moved: bool


@dataclass(frozen=True, slots=True)
class Moved:
    """One target that was moved and stands."""

    row: TargetChange
    measure: targets.Measure
    value: str


@dataclass(frozen=True, slots=True)
class TargetsPage(OfOneHorn):
    horn: Horn
    from_on: dt.date  # from when a change would count
    lines: tuple[Line, ...]
    moved: tuple[Moved, ...]
    history: tuple[Moved, ...]  # the newest first; an empty value: taken back


def page(horn: Horn) -> TargetsPage:
    """A fixed number of queries."""
    every = list(horn.target_changes.filter(measure__in=targets.MEASURES).select_related("by"))
    from_on = gate_rules.first_day(horn.studio, horn)
    stands = targets.standing(every)
    general = {row.measure for row in stands if row.written_midi is None and not row.tone}
    now = _now(horn, from_on)
    return TargetsPage(
        horn=horn,
        from_on=from_on,
        lines=tuple(
            Line(one, _table(one), shown(one, getattr(now, key)), key in general)
            for key, one in targets.MEASURES.items()
        ),
        moved=tuple(_moved(row) for row in stands),
        history=tuple(_moved(row) for row in reversed(every)),
    )


def _now(horn: Horn, on: dt.date) -> Target:
    """What a plain tone is held against: by the week that holds then, else as a week set then would."""
    week, plain = weeks.in_force(horn, on), Slot(0, targets.PLAIN_NOTE, targets.PLAIN_TONE)
    return limits.of_week(horn, week, plain, on) if week else targets.held(horn, on)


def shown(measure: targets.Measure, value: float) -> str:
    """A limit as a teacher reads it."""
    return number_format(round(value * measure.shown, 3)).rstrip("0").rstrip(".,") if value else number_format(0)


def _moved(row: TargetChange) -> Moved:
    measure = targets.MEASURES[row.measure]
    return Moved(row, measure, shown(measure, row.value) if row.value is not None else "")


def _table(measure: targets.Measure) -> tuple[str, ...]:
    """The general row of the table: those with exceptions stand after it."""
    row = next(row for row in rows() if row.measure == measure.key)
    return tuple(shown(measure, row.limits[level]) for level in LEVELS)
