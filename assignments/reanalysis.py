"""Kept takes measured again by the engine of today: what would change is told first, and nothing that counted moves.

A take gets another Result, each of its tries a JudgedAgain beside its own outcome. The same functions hear and judge
as in the worker, one take at a time.
"""

from __future__ import annotations

import datetime as dt
import logging
import uuid
from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import asdict, dataclass, field
from typing import Any

from django.db import transaction
from django.db.models import QuerySet

from analysis import results
from analysis.core import measure
from analysis.core.records import Verdict
from analysis.faults import Fault
from analysis.models import Analysis, Result
from analysis.tasks import measured
from assignments import gate, settling, standings
from assignments.exercises import Slot
from assignments.models import JudgedAgain, Take, Try
from studio.models import Horn

log = logging.getLogger(__name__)

BATCH = 25  # takes read at once; their sound is never held


@dataclass(frozen=True, slots=True)
class DayMoved:
    """A day that would have come to something else. None: too little was readable to tell."""

    player: str
    on: dt.date
    was: bool | None
    would_be: bool | None


@dataclass(slots=True)
class Found:
    """What measuring again found, or would find."""

    engine: str
    takes: int = 0
    takes_moved: int = 0
    broken: int = 0  # kept, but not to be measured any more
    tones: int = 0
    moved: Counter[tuple[str, str]] = field(default_factory=Counter)  # by outcome then and now
    days: list[DayMoved] = field(default_factory=list)


def waiting() -> QuerySet[Take]:
    """Settled takes whose recording is kept and that the engine of today has not heard."""
    heard = Result.objects.filter(engine=measure.ENGINE)
    return (
        Take.objects.filter(analysis__state=Analysis.State.MEASURED, settled_at__isnull=False)
        .exclude(analysis__audio="")
        .exclude(analysis__in=heard.values("analysis"))
        .select_related("analysis", "exercise__week", "horn__player__user", "horn__player__studio")
    )


def again(*, write: bool, most: int | None = None, batch: int = BATCH) -> Found:
    """Measure what waits, at most so many takes. ``write`` False: nothing is kept, what would change is found."""
    found = Found(measure.ENGINE)
    outcomes: dict[tuple[Horn, dt.date], dict[uuid.UUID, str]] = {}
    for take in _in_batches(most, batch):
        try:
            report = measured(take.analysis)
        except Fault as fault:
            log.warning("not measured again: %s", fault.code, extra={"analysis": str(take.analysis_id)})
            found.broken += 1
            continue
        judged = _judged(take, report)
        moved = {row.pk: new.outcome for row, (new, _) in judged.items() if row.outcome != new.outcome}
        found.takes += 1
        found.takes_moved += bool(moved)
        found.tones += len(judged)
        found.moved.update((row.outcome, new.outcome) for row, (new, _) in judged.items() if row.pk in moved)
        if moved:
            outcomes.setdefault((take.horn, take.on), {}).update(moved)
        if write:
            _keep(take, report, judged)
    found.days = [day for (horn, on), new in outcomes.items() for day in _moved_day(horn, on, new)]
    return found


Judged = dict[Try, tuple[Verdict, int | None]]


def _in_batches(most: int | None, batch: int) -> Iterator[Take]:
    """By key, so that takes that stay unheard are not come upon again."""
    last, left = uuid.UUID(int=0), most
    while left is None or left > 0:
        rows = list(waiting().filter(pk__gt=last).order_by("pk")[: batch if left is None else min(batch, left)])
        if not rows:
            return
        yield from rows
        last = rows[-1].pk
        left = None if left is None else left - len(rows)


def _judged(take: Take, report: Mapping[str, Any]) -> Judged:
    heard = results.measurement(report)
    return {
        row: settling.verdict_on(take, Slot(**take.asked[row.slot]), row.slot, heard)
        for row in take.tries.order_by("slot")
    }


def _keep(take: Take, report: dict[str, Any], judged: Judged) -> None:
    """Everything of one take at once, unless it was deleted meanwhile."""
    with transaction.atomic():
        if not Analysis.objects.select_for_update().filter(pk=take.analysis_id).exists():
            return
        Result.objects.get_or_create(analysis=take.analysis, engine=report["engine"], defaults={"report": report})
        JudgedAgain.objects.bulk_create(
            (
                JudgedAgain(
                    about_try=row,
                    engine=report["engine"],
                    outcome=verdict.outcome,
                    tone_index=tone_index,
                    checks=[asdict(check) for check in verdict.checks],
                    reasons=list(verdict.reasons),
                )
                for row, (verdict, tone_index) in judged.items()
            ),
            ignore_conflicts=True,
        )


def _moved_day(horn: Horn, on: dt.date, new: Mapping[uuid.UUID, str]) -> list[DayMoved]:
    """The day, if it would have come to something else with these outcomes."""
    rows = list(Try.objects.filter(horn=horn, on=on, counts=True).order_by("played_at", "slot"))
    was, would_be = (
        standings.on_target(
            horn,
            gate.days(
                [gate.Try(row.on, row.written_midi, row.tone, told.get(row.pk, row.outcome)) for row in rows],
                *horn.written_range,
            ),
        ).get(on)
        for told in ({}, new)
    )
    return [] if was == would_be else [DayMoved(horn.player.user.name, on, was, would_be)]
