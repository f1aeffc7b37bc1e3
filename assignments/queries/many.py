"""Setting the week for many: who has one, until when, and what each would get."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils import timezone
from django.utils.translation import gettext as _

from assignments import builds, lessons, many, weeks
from assignments.many import DAY, LESSON
from assignments.models import Week
from assignments.queries.routines import RoutineView, offered
from assignments.queries.whose import OfOneHorn
from studio.access import horns_of_staff
from studio.models import Horn, Membership

LOOK_BACK_DAYS = 60  # an older week is no longer somebody's week
SITTING = dt.timedelta(hours=12)  # in which the weeks of a studio are set


@dataclass(frozen=True, slots=True)
class Student(OfOneHorn):
    horn: Horn
    build: str
    last: Week | None
    until_on: dt.date  # the last day of what would be given from one day for all
    lesson_on: dt.date  # the first day …
    lesson_until_on: dt.date  # … and the last of what would be given with the next lesson
    is_over: bool  # what stands has ended by today, or nothing stands
    chosen: bool

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
    def begins(self) -> str:
        """When weeks usually begin: as long as everybody has one, a new one today would cut theirs short."""
        return DAY if self.without else LESSON

    @property
    def without(self) -> int:
        """Students whose week is over, or who never had one."""
        return sum(one.is_over for one in self.students)


def horns_here(staff: Membership) -> list[Horn]:
    """Horns in use of students who haven't left. One query."""
    return list(horns_of_staff(staff).exclude(player__ends_on__lt=staff.studio.today()))


def next_without(staff: Membership, after: Horn) -> Horn | None:
    """In the order of the page the next student after one whose week nobody has set since, and who has none beyond the
    next lesson: on a Sunday everybody comes round once.
    """
    horns, on = horns_here(staff), staff.studio.today()
    last, since = _last_weeks(horns, on), timezone.now() - SITTING
    changed = lessons.changed([horn.player for horn in horns], on)

    def is_done(horn: Horn) -> bool:
        week, lesson_on = last.get(horn.pk), lessons.from_on(horn.player, on, changed[horn.player_id])
        return week is not None and (week.ends_on > lesson_on or week.set_at > since)

    place = next((place for place, horn in enumerate(horns) if horn.pk == after.pk), 0)
    in_turn = [*horns[place + 1 :], *horns[:place]]
    return next((horn for horn in in_turn if not is_done(horn)), None)


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
    players = [horn.player for horn in horns]
    lately = lessons.changed(players, on)
    changed = lately if first == on else lessons.changed(players, first)
    with_lesson = {horn.pk: lessons.from_on(horn.player, on, lately[horn.player_id]) for horn in horns}
    over = {horn.pk for horn in horns if horn.pk not in last or last[horn.pk].ends_on < on}
    return ManyPage(
        students=tuple(
            Student(
                horn,
                builds.words(horn),
                last.get(horn.pk),
                weeks.last_day(horn, first, changed[horn.player_id]),
                with_lesson[horn.pk],
                weeks.last_day(horn, with_lesson[horn.pk], lately[horn.player_id]),
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
