"""Days practised from the printed card, as a teacher notes them.

Nobody heard them: they show that somebody practised, and are never read by the gate or the planner.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection
from dataclasses import dataclass

from django.db import transaction

from assignments.models import PaperDay, PlayedDay
from studio.models import Horn, User

NOTED_DAYS = 14  # so far back a card is still at hand


@dataclass(frozen=True, slots=True)
class Noted:
    """One day. ``recorded``: something of it was heard, so there is nothing to note."""

    on: dt.date
    noted: bool
    recorded: bool


def lately(horn: Horn, on: dt.date) -> tuple[Noted, ...]:
    """The last fortnight up to ``on``, the newest first. Two queries."""
    days = [on - dt.timedelta(days=ago) for ago in range(NOTED_DAYS)]
    noted = set(PaperDay.objects.filter(horn=horn, on__in=days).values_list("on", flat=True))
    recorded = set(PlayedDay.objects.filter(horn=horn, on__in=days).values_list("on", flat=True))
    return tuple(Noted(day, day in noted, day in recorded) for day in days)


def note(horn: Horn, *, by: User, days: Collection[dt.date]) -> None:
    """Of the last fortnight exactly these days were practised from paper; others that were noted are not any more."""
    today = horn.studio.today()
    reach = {day.on for day in lately(horn, today)}
    wanted = set(days) & reach
    with transaction.atomic():
        PaperDay.objects.filter(horn=horn, on__in=reach - wanted).delete()
        PaperDay.objects.bulk_create((PaperDay(horn=horn, on=day, by=by) for day in wanted), ignore_conflicts=True)
