"""Who did what with a student's data, or in a studio: the log's rows, the decisions and the hearings in one list."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django.db.models import QuerySet
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments.models import Decision, Hearing
from studio.models import LogRow, Membership, Studio, User

SHOWN = 100


@dataclass(frozen=True, slots=True)
class Entry:
    """One line: when, who, what, about whom; ``address``: from where, if that was written down."""

    at: dt.datetime
    who: str
    what: str
    about: str = ""
    address: str | None = None


def of_student(student: Membership) -> tuple[Entry, ...]:
    """What a guardian may see: everything about this student, the newest first. Five queries."""
    rows = LogRow.objects.filter(about_id=student.pk)[:SHOWN]
    decisions = Decision.objects.filter(horn__player=student)
    return _merged(student.studio, rows, decisions, Hearing.objects.filter(take__horn__player=student))


def of_studio(studio: Studio) -> tuple[Entry, ...]:
    """What the owner may see: everything in the studio, the newest first. Five queries."""
    rows = LogRow.objects.filter(studio=studio)[:SHOWN]
    decisions = Decision.objects.filter(horn__player__studio=studio)
    return _merged(studio, rows, decisions, Hearing.objects.filter(take__horn__player__studio=studio))


def _merged(
    studio: Studio, rows: Iterable[LogRow], decisions: QuerySet[Decision], hearings: QuerySet[Hearing]
) -> tuple[Entry, ...]:
    rows = list(rows)
    decided = decisions.select_related("by", "horn__player__user").order_by("-made_at")[:SHOWN]
    heard = hearings.select_related("by", "take__horn__player__user").order_by("-at")[: 10 * SHOWN]
    people = _names(row.who_id for row in rows)
    about = _about(row.about_id for row in rows)
    entries = [
        *(_row(row, people.get(row.who_id), about.get(row.about_id, "")) for row in rows),
        *(
            Entry(row.made_at, row.by.name if row.by else _gone(), _decided(row), row.horn.player.user.name)
            for row in decided
        ),
        *_listened(heard, studio),
    ]
    return tuple(sorted(entries, key=lambda entry: entry.at, reverse=True)[:SHOWN])


def _row(row: LogRow, who: str | None, about: str) -> Entry:
    about = "" if about == who else about  # who does something with what is their own is named once
    return Entry(row.at, who or _nameless(row), row.get_what_display(), about, row.address)


def _listened(heard: Iterable[Hearing], studio: Studio) -> Iterable[Entry]:
    """One line for all that one person heard of one student's recordings on one day of the studio's."""
    together: dict[tuple[str, str, dt.date], list[dt.datetime]] = {}
    for row in heard:
        key = (row.by.name, row.take.horn.player.user.name, studio.day_of(row.at))
        together.setdefault(key, []).append(row.at)
    for (who, whose, _day), times in together.items():
        times_said = ngettext("listened, %(n)d time", "listened, %(n)d times", len(times)) % {"n": len(times)}
        yield Entry(max(times), who, times_said, whose)


def _decided(row: Decision) -> str:
    return _("decided about the high notes: %(what)s") % {"what": row.get_kind_display()}


def _names(ids: Iterable[UUID | None]) -> dict[UUID | None, str]:
    return dict(User.objects.filter(pk__in={key for key in ids if key}).values_list("pk", "name"))


def _about(ids: Iterable[UUID | None]) -> dict[UUID | None, str]:
    wanted = {key for key in ids if key}
    return dict(Membership.objects.filter(pk__in=wanted).values_list("pk", "user__name"))


def _nameless(row: LogRow) -> str:
    """What comes from no address was done by a command or the sweeper, where the site runs."""
    if row.who_id:
        return _gone()
    return _("nobody signed in") if row.address else _("the site’s own computer")


def _gone() -> str:
    return _("somebody who is no longer here")
