"""Who holds a recording while it is measured. Each step is one conditional update: what arrives twice does nothing.

Times that processes compare are the database's own; a process's clock may be wrong.
"""

from __future__ import annotations

import datetime as dt
import uuid
from typing import Any

from django.db import transaction
from django.db.models import F, Q, QuerySet
from django.db.models.functions import Now

from analysis.faults import Fault
from analysis.models import Analysis, Result

LEASE = dt.timedelta(seconds=30)  # a worker that dies is missed this soon …
RENEW_EVERY_S = 8.0  # … and one that lives renews its claim well before
MOST_LOST = 8  # workers that may vanish with a recording before it is given up
MOST_DEATHS = 2  # decoders that one file may kill
GAVE_UP = "Our fault, not yours. Measuring this recording failed again and again; the studio’s owner can see it."
TAKEN_BACK = "This recording was deleted before it was measured: permission to record was taken back at home."
State = Analysis.State


def claim(analysis_id: str) -> uuid.UUID | None:
    """Take a queued recording in hand. None: somebody else has it, or it is done."""
    token = uuid.uuid4()
    waiting = Analysis.objects.filter(pk=analysis_id, state=State.QUEUED)
    won = waiting.update(state=State.RUNNING, token=token, lease_until=Now() + LEASE, claims=F("claims") + 1)
    return token if won else None


def renew(analysis: Analysis, token: uuid.UUID) -> None:
    """Hold on to the claim: the worker lives and measures."""
    _held(analysis, token).update(lease_until=Now() + LEASE)


def record(analysis: Analysis, token: uuid.UUID, report: dict[str, Any] | None) -> None:
    """Write the result if the claim still holds; otherwise somebody else measures, and this is thrown away.

    ``report`` None: it was read through, and there was nothing to measure.
    """
    with transaction.atomic():
        held = _held(analysis, token).update(state=State.MEASURED, token=None, lease_until=None, measured_at=Now())
        if held and report is not None:
            Result.objects.update_or_create(analysis=analysis, engine=report["engine"], defaults={"report": report})


def refuse(analysis: Analysis, token: uuid.UUID, fault: Fault) -> None:
    """The file can't be measured, and words say why. One that killed its decoder gets a second try, never a third."""
    mine = _held(analysis, token)
    if fault.died and analysis.deaths + 1 < MOST_DEATHS:
        mine.update(state=State.QUEUED, token=None, lease_until=None, sent_at=None, deaths=F("deaths") + 1)
    else:
        mine.update(
            state=State.REFUSED,
            token=None,
            lease_until=None,
            measured_at=Now(),
            deaths=F("deaths") + int(fault.died),
            fault_code=fault.code,
            fault_text=fault.text[:2000],
        )


def hand_back(analysis: Analysis, token: uuid.UUID) -> None:
    """Measuring broke down: let another worker try."""
    _requeue(_held(analysis, token))


def hand_back_lapsed() -> int:
    """Queue again what workers vanished with. Returns how many there were.

    A lease that ends later than any could is one of a clock that ran ahead and was set right.
    """
    lapsed = Q(lease_until__lt=Now()) | Q(lease_until__gt=Now() + 2 * LEASE)
    return _requeue(Analysis.objects.filter(lapsed, state=State.RUNNING))


def drop(analyses: QuerySet[Analysis]) -> int:
    """Measure none of these any more: whoever holds one has lost it. Returns how many were not over yet."""
    return analyses.filter(state__in=(State.QUEUED, State.RUNNING)).update(
        state=State.REFUSED,
        token=None,
        lease_until=None,
        measured_at=Now(),
        fault_code="taken_back",
        fault_text=TAKEN_BACK,
    )


def _held(analysis: Analysis, token: uuid.UUID) -> QuerySet[Analysis]:
    return Analysis.objects.filter(pk=analysis.pk, token=token, state=State.RUNNING)


def _requeue(rows: QuerySet[Analysis]) -> int:
    freed = {"token": None, "lease_until": None, "lost": F("lost") + 1}
    given_up = rows.filter(lost__gte=MOST_LOST - 1).update(
        state=State.FAILED, measured_at=Now(), fault_code="gave_up", fault_text=GAVE_UP, **freed
    )
    return given_up + rows.update(state=State.QUEUED, sent_at=None, **freed)
