"""Standings that were worked out already, kept by the process as long as nothing they follow from has changed.

A standing is derived from years of days, and a studio's page wants sixty of them. What was derived is asked for again
by a fingerprint of everything it followed from, read anew each time in one query: so it is never told when it no
longer holds, whichever process, form or task wrote what changed it.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping, Sequence
from functools import cache
from threading import Lock
from typing import Any, NamedTuple

from django.db import transaction
from django.db.models import CharField, Count, Max, OuterRef, QuerySet, Subquery, Sum, Value
from django.db.models.functions import Cast, Coalesce, Concat

from assignments import gate
from assignments.models import Decision, GateRule, PlayedDay, Week
from studio.models import Horn

KEPT = 1000  # horns and days; a studio of sixty fills a few megabytes
Fingerprint = tuple[object, ...]
Ladder = Mapping[int, gate.Standing]  # by stage


class Known(NamedTuple):
    """One horn at the end of one day: what was played, oldest first, and where it stands."""

    days: Sequence[gate.Day]
    ladder: Ladder


_known: dict[tuple[object, dt.date], tuple[Fingerprint, Known]] = {}
_making_room = Lock()


def fingerprints(horns: Sequence[Horn]) -> dict[object, Fingerprint]:
    """By horn. Days count how often they were folded, and the other rows are only added to: so numbers tell. One query.

    A take that settles late may turn a day's verdict and leave it as long as it was: length alone would not tell.
    """
    rows = _followed_from().filter(pk__in=[horn.pk for horn in horns])
    names = ("lowest_written_midi", "highest_keyed_written_midi", *rows.query.annotations)
    return {row[0]: tuple(row[1:]) for row in rows.values_list("pk", *names)}


@cache
def _followed_from() -> QuerySet[Horn]:
    """The question, without its answer: putting it together takes as long as asking it."""
    played = PlayedDay.objects.filter(horn=OuterRef("pk"))
    shared = GateRule.objects.filter(studio=OuterRef("player__studio"), horn=None)
    told = {
        "played": _of(played, Count("pk"), Sum("folds")),
        "made": _of(Decision.objects.filter(horn=OuterRef("pk")), Count("pk"), Max("made_at")),
        "given": _of(Week.objects.filter(horn=OuterRef("pk")), Count("pk"), Max("set_at")),
        "agreed": _of(GateRule.objects.filter(horn=OuterRef("pk")), Count("pk"), Max("made_at")),
        "of_studio": _of(shared, Count("pk"), Max("made_at"), group="studio"),
    }
    return Horn.objects.annotate(
        **{name: Coalesce(Subquery(found, output_field=CharField()), Value("")) for name, found in told.items()}
    )


def _of(rows: QuerySet, *sums: Any, group: str = "horn"):  # type: ignore[no-untyped-def, type-arg]  # a query of one text
    text = CharField()
    parts = [part for one in sums for part in (Cast(one, text), Value(";"))]
    return rows.order_by().values(group).annotate(told=Concat(*parts, output_field=text)).values("told")


def get(horn: Horn, on: dt.date, fingerprint: Fingerprint) -> Known | None:
    """What was kept of that day, if it still follows from the same."""
    kept = _known.get((horn.pk, on))
    return kept[1] if kept and kept[0] == fingerprint else None


def keep(horn: Horn, on: dt.date, fingerprint: Fingerprint, known: Known) -> None:
    """Once what it follows from is sure to stay: what is rolled back may come again as others, as many as before."""
    transaction.on_commit(lambda: _keep((horn.pk, on), (fingerprint, known)))


def _keep(key: tuple[object, dt.date], what: tuple[Fingerprint, Known]) -> None:
    """What was kept longest makes room."""
    with _making_room:
        if len(_known) >= KEPT:
            del _known[next(iter(_known))]
        _known[key] = what
