"""At home: what is kept of one student, until when, and who did what with it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Min, Sum

from assignments.models import Take, Try
from assignments.queries import logged
from studio.models import Membership

LATEST = 8
BACKUPS_FORGET_DAYS = 35


@dataclass(frozen=True, slots=True)
class KeptPage:
    """``goes_on``: the day on which the oldest recording is deleted; None: none is kept."""

    ward: Membership
    recordings: int
    megabytes: float
    goes_on: dt.date | None
    tries: int
    latest: tuple[Take, ...]
    log: tuple[logged.Entry, ...]
    backups_forget_days: int = BACKUPS_FORGET_DAYS


def page(ward: Membership) -> KeptPage:
    """A fixed number of queries."""
    takes = Take.objects.filter(horn__player=ward).exclude(analysis__audio="")
    sums = takes.aggregate(bytes=Sum("analysis__audio_bytes"), oldest_on=Min("on"))
    oldest = sums["oldest_on"]
    return KeptPage(
        ward=ward,
        recordings=takes.count(),
        megabytes=(sums["bytes"] or 0) / 1e6,
        goes_on=oldest + dt.timedelta(days=ward.studio.keep_takes_days + 1) if oldest else None,
        tries=Try.objects.filter(horn__player=ward).count(),
        latest=tuple(takes.select_related("analysis").order_by("-received_at")[:LATEST]),
        log=logged.of_student(ward),
    )
