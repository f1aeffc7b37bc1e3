"""Setting the week for many: who has one, until when, and what each would get."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import builds, lessons, many, weeks
from assignments.models import Week
from assignments.queries.routines import RoutineView, offered
from studio.access import horns_of_staff
from studio.models import Horn, Membership

LOOK_BACK_DAYS = 60  # an older week is no longer somebody's week


@dataclass(frozen=True, slots=True)
class Student:
    horn: Horn
    build: str
    last: Week | None
    until_on: dt.date  # the last day of what would be given
    is_over: bool  # what stands has ended by today, or nothing stands
    chosen: bool

    @property
    def name(self) -> str:
        return str(self.horn.player.user)

    @property
    def has(self) -> str:
        """The week that stands, in a line."""
        if self.last is None:
            return _("no week yet")
        places = {
            "minutes": self.last.budget_minutes,
            "day": date_words(self.last.ends_on, "D j M"),
        }
        words = _("%(minutes)d min, until %(day)s") % places
        return f"{words}: {self.last.focus}" if self.last.focus else words


@dataclass(frozen=True, slots=True)
class ManyPage:
    students: tuple[Student, ...]
    ready_made: tuple[RoutineView, ...]
    own: tuple[RoutineView, ...]
    given: tuple[many.Given, ...]

    @property
    def done(self) -> int:
        return sum(not one.refused for one in self.given)

    @property
    def refused(self) -> tuple[many.Given, ...]:
        return tuple(one for one in self.given if one.refused)

    @property
    def without(self) -> int:
        """Students whose week is over, or who never had one."""
        return sum(one.is_over for one in self.students)


def horns_here(staff: Membership) -> list[Horn]:
    """Horns in use of students who haven't left. One query."""
    return list(horns_of_staff(staff).exclude(player__ends_on__lt=staff.studio.today()))


def page(
    staff: Membership,
    horns: Sequence[Horn],
    *,
    starts_on: dt.date | None = None,
    chosen: Iterable[str] | None = None,
    given: Sequence[many.Given] = (),
) -> ManyPage:
    """``chosen``: keys of horns; None: everybody whose week is over. A fixed number of queries."""
    on = staff.studio.today()
    first = starts_on or on
    last = _last_weeks(horns, on)
    keys = None if chosen is None else set(chosen)
    offer = offered(staff.studio)
    changed = lessons.changed([horn.player for horn in horns], first)
    over = {horn.pk for horn in horns if horn.pk not in last or last[horn.pk].ends_on < on}
    return ManyPage(
        students=tuple(
            Student(
                horn,
                builds.words(horn),
                last.get(horn.pk),
                weeks.last_day(horn, first, changed[horn.player_id]),
                is_over=horn.pk in over,
                chosen=str(horn.pk) in keys if keys is not None else horn.pk in over,
            )
            for horn in horns
        ),
        ready_made=offer.ready_made,
        own=offer.own,
        given=tuple(given),
    )


def _last_weeks(horns: Sequence[Horn], on: dt.date) -> dict[object, Week]:
    rows = Week.objects.filter(horn__in=horns, ends_on__gte=on - dt.timedelta(days=LOOK_BACK_DAYS))
    return {row.horn_id: row for row in rows.order_by("starts_on", "set_at")}
