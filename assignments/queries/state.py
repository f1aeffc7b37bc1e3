"""How the studio's computer is: what waits, what was given up, how much room is left, when a backup was made."""

from __future__ import annotations

import datetime as dt
import shutil
from dataclasses import dataclass
from pathlib import Path

from django.conf import settings
from django.db.models import Count, Min
from django.utils import timezone

from analysis.models import Analysis
from assignments import backups, sweeper
from assignments.models import Take
from studio.models import Studio

LATE = dt.timedelta(minutes=5)  # a take that has waited so long is nobody's turn any more: something stands still
SWEPT_WITHIN = dt.timedelta(minutes=2)
BACKUP_WITHIN = dt.timedelta(hours=26)  # every night, and two hours for a slow one
LEAST_ROOM = 0.15  # of the disk
MOST_SHOWN = 20


@dataclass(frozen=True, slots=True)
class State:
    """``given_up``: recordings of this studio that could not be measured by our own fault, of the last month, newest
    first."""

    waiting: int
    oldest_at: dt.datetime | None
    unsettled: int  # takes that are measured and not settled …
    unsettled_since: dt.datetime | None  # … and when the first of them was measured
    measured_lately: int  # in the last hour
    free_bytes: int
    free_share: float
    backup_at: dt.datetime | None
    swept_at: dt.datetime | None
    given_up: tuple[Take, ...]
    unreadable: int  # recordings of the last month that are no sound we can read
    now: dt.datetime

    @property
    def stands_still(self) -> bool:
        return self.oldest_at is not None and self.now - self.oldest_at > LATE

    @property
    def settling_stands_still(self) -> bool:
        return self.unsettled_since is not None and self.now - self.unsettled_since > LATE

    @property
    def room_is_short(self) -> bool:
        return self.free_share < LEAST_ROOM

    @property
    def backup_is_due(self) -> bool:
        return self.backup_at is None or self.now - self.backup_at > BACKUP_WITHIN

    @property
    def sweeper_is_away(self) -> bool:
        return self.swept_at is None or self.now - self.swept_at > SWEPT_WITHIN

    @property
    def is_well(self) -> bool:
        chain_stands = self.stands_still or self.settling_stands_still or self.sweeper_is_away
        return not (chain_stands or self.room_is_short or self.backup_is_due or self.given_up)


def read(studio: Studio) -> State:
    """Five queries. The queues, the disk and the backup are everybody's who shares this computer."""
    now = timezone.now()
    waiting = Analysis.objects.filter(state__in=(Analysis.State.QUEUED, Analysis.State.RUNNING))
    queue = waiting.aggregate(n=Count("pk"), oldest=Min("created_at"))
    measured = Take.objects.filter(settled_at=None, analysis__state__in=sweeper.OVER)
    settling = measured.aggregate(n=Count("pk"), oldest=Min("analysis__measured_at"))
    ours = Take.objects.filter(horn__player__studio=studio)
    month_ago = now - dt.timedelta(days=30)
    failed = ours.filter(analysis__state=Analysis.State.FAILED, received_at__gt=month_ago)
    given_up = failed.select_related("horn__player__user")
    disk = shutil.disk_usage(settings.VAR)
    return State(
        waiting=queue["n"],
        oldest_at=queue["oldest"],
        unsettled=settling["n"],
        unsettled_since=settling["oldest"],
        measured_lately=Analysis.objects.filter(measured_at__gt=now - dt.timedelta(hours=1)).count(),
        free_bytes=disk.free,
        free_share=disk.free / disk.total,
        backup_at=backups.last_made_at(),
        swept_at=_changed_at(sweeper.note_file()),
        given_up=tuple(given_up.order_by("-received_at")[:MOST_SHOWN]),
        unreadable=ours.filter(analysis__state=Analysis.State.REFUSED, received_at__gt=month_ago).count(),
        now=now,
    )


def _changed_at(file: Path) -> dt.datetime | None:
    return dt.datetime.fromtimestamp(file.stat().st_mtime, dt.UTC) if file.exists() else None
