"""The agenda of one lesson, as a teacher keeps it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence

from django.db import transaction
from django.utils import timezone

from assignments.models import Agenda
from studio.models import Horn, User

MOST_POINTS, LONGEST = 20, 300


def keep(horn: Horn, *, by: User, on: dt.date, points: Sequence[str], instead_of: Agenda | None = None) -> Agenda:
    """What is to be done in the lesson of that day, in this order; kept again, the last word holds.

    ``instead_of``: the one that was kept before this lesson was moved; it moves along.
    """
    with transaction.atomic():
        if instead_of is not None:
            Agenda.objects.filter(pk=instead_of.pk).update(on=on)
        row, _is_new = Agenda.objects.update_or_create(
            horn=horn, on=on, defaults={"points": list(points), "by": by, "changed_at": timezone.now()}
        )
    return row
