"""At home: what is kept of one student, until when, and who did what with it."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.db.models import Count, Min, Q, Sum

from assignments import belongings
from assignments.models import Milestone, Take, Try
from assignments.queries import logged
from studio import consent
from studio.models import Membership

LATEST = 8
BACKUPS_FORGET_DAYS = 35


@dataclass(frozen=True, slots=True)
class KeptPage:
    """``recordings``: takes and spoken words. ``goes_on``: when the oldest take is deleted; None: none is kept."""

    ward: Membership
    recordings: int
    megabytes: float
    goes_on: dt.date | None
    tries: int
    latest: tuple[Take, ...]
    milestones: tuple[Milestone, ...]  # kept past their time
    keep_days: int  # the others
    log: tuple[logged.Entry, ...]
    backups_forget_days: int = BACKUPS_FORGET_DAYS


def page(ward: Membership) -> KeptPage:
    """A fixed number of queries."""
    takes = Take.objects.filter(horn__player=ward).exclude(analysis__audio="")
    keep_days = consent.keep_days(ward)
    oldest = takes.aggregate(on=Min("on", filter=Q(milestone=None)))["on"]
    sums = belongings.recordings(ward).exclude(audio="").aggregate(many=Count("pk"), bytes=Sum("audio_bytes"))
    return KeptPage(
        ward=ward,
        recordings=sums["many"],
        megabytes=(sums["bytes"] or 0) / 1e6,
        goes_on=oldest + dt.timedelta(days=keep_days + 1) if oldest else None,
        tries=Try.objects.filter(horn__player=ward).count(),
        latest=tuple(takes.select_related("analysis").order_by("-received_at")[:LATEST]),
        milestones=tuple(Milestone.objects.filter(take__in=takes).select_related("take").order_by("take__on")),
        keep_days=keep_days,
        log=logged.of_student(ward),
    )
