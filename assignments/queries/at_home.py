"""At home: is it going kindly? One student's month, in facts that need no trade words."""

from __future__ import annotations

import calendar
import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, lessons, stages, standings, weeks
from assignments.exercises import slots_of_budget
from assignments.models import Comment, DayPlan, PaperDay, PlayedDay
from assignments.queries import log, parts
from assignments.spelled import capital, spelled
from studio import consent
from studio.models import Horn, Membership

STAFF_WORDS = 3  # the latest of the month
MINUTES = (5, 10, 15)


@dataclass(frozen=True, slots=True)
class HornMonth:
    """One horn's month: how many notes stood when it began, how many stand at its end (or today)."""

    horn: Horn
    notes_asked: int
    stood: int
    stand: int
    high_notes: str  # where the gates stand, in a few words
    log: tuple[log.LogEntry, ...]  # all that was decided about them
    came_on: tuple[int, ...]  # written notes that stand now and didn't when the month began, low to high
    wanted: tuple[int, ...]  # those that don't stand yet

    @property
    def sentence(self) -> str:
        now = ngettext(
            "%(n)d of %(asked)d notes stands.", "%(n)d of %(asked)d notes stand.", self.stand
        ) % {"n": self.stand, "asked": self.notes_asked}  # fmt: skip
        if self.stand == self.stood:
            return now + " " + _("When the month began it was the same.")
        if not self.stood:
            return now + " " + _("When the month began none did yet.")
        return now + " " + _("When the month began it was %(n)d.") % {"n": self.stood}


@dataclass(frozen=True, slots=True)
class HomeMonth:
    ward: Membership
    first_on: dt.date
    last_on: dt.date
    today: dt.date
    days: int
    minutes: int  # a day, about
    stopped: int  # days that ended because something hurt
    horns: tuple[HornMonth, ...]
    together: tuple[str, ...]  # the ensembles that the student sits in, with what is asked there
    focus: str
    said: tuple[Comment, ...]  # by the staff, newest first
    lesson_on: dt.date | None
    lesson_at: dt.time | None
    may_record: bool

    @property
    def month(self) -> str:
        return date_words(self.first_on, "F")

    @property
    def headline(self) -> str:
        if not self.days:
            return _("%(month)s: a rest from tones") % {"month": self.month}
        return ngettext("%(n)s day of tones in %(month)s", "%(n)s days of tones in %(month)s", self.days) % {
            "n": capital(spelled(self.days)),
            "month": self.month,
        }

    @property
    def before(self) -> dt.date:
        """The first of the month before."""
        return (self.first_on - dt.timedelta(days=1)).replace(day=1)

    @property
    def after(self) -> dt.date | None:
        """The first of the next month; None: it hasn't come yet."""
        following = self.last_on + dt.timedelta(days=1)
        return following if following <= self.today else None


def month(ward: Membership, asked: dt.date | None = None, *, at_home: bool = True) -> HomeMonth:
    """The month that ``asked`` lies in; without it, and for one to come, this one. A fixed number of queries a horn.

    ``at_home`` False: for the studio, which learns of a day that ended in pain only where it may.
    """
    today = ward.studio.today()
    first = min(asked or today, today).replace(day=1)
    last = first.replace(day=calendar.monthrange(first.year, first.month)[1])
    horns = list(ward.horns.filter(put_away_on=None).select_related("player__studio").order_by("in_use_since_on", "pk"))
    played = PlayedDay.objects.filter(horn__player=ward, on__range=(first, last))
    stopped = DayPlan.objects.filter(horn__player=ward, on__range=(first, last), stopped_hurting_at__isnull=False)
    if not at_home:
        stopped = stopped.filter(teacher_may_know=True)
    paper = PaperDay.objects.filter(horn__player=ward, on__range=(first, last))
    days = {day for rows in (played, stopped, paper) for day in rows.values_list("on", flat=True)}
    until = min(last, today)
    lesson = lessons.upcoming(ward, today)
    return HomeMonth(
        ward=ward,
        first_on=first,
        last_on=last,
        today=today,
        days=len(days),
        minutes=_minutes([len(day.counted) for day in played]),
        stopped=stopped.count(),
        horns=tuple(_horn(horn, first, until) for horn in horns),
        together=parts.at_home(ward, today),
        focus=next((week.focus for horn in horns if (week := weeks.in_force(horn, today)) and week.focus), ""),
        said=tuple(_said(ward, first, last)),
        lesson_on=lesson.on if lesson else None,
        lesson_at=lesson.at if lesson else None,
        may_record=consent.stands(ward),
    )


def _minutes(tones: Sequence[int]) -> int:
    """What a day's readable tones came to, as the budget that asks for so many. 0: no day."""
    if not tones:
        return 0
    usual = sorted(tones)[len(tones) // 2]
    return next((minutes for minutes in MINUTES if usual <= slots_of_budget(minutes)), MINUTES[-1])


def _horn(horn: Horn, first: dt.date, until: dt.date) -> HornMonth:
    ladder = standings.ladders([horn], until)[horn.pk]
    before = standings.standing(horn, 1, first - dt.timedelta(days=1))
    short = set(ladder[1].notes_short)
    stood = set(_asked(horn, until)) - set(before.notes_short) if before.days else set()
    stand = set(_asked(horn, until)) - short if ladder[1].days else set()
    return HornMonth(
        horn,
        ladder[1].notes_asked,
        _stand(before),
        _stand(ladder[1]),
        stages.line(ladder, until),
        log.entries(horn, ladder),
        tuple(sorted(stand - stood)),
        tuple(sorted(short)),
    )


def _asked(horn: Horn, on: dt.date) -> list[int]:
    """The written notes that the week of that day asks for."""
    lowest, highest = horn.written_range
    week = weeks.in_force(horn, on)
    left_out = set(week.excluded_written_midi) if week else set()
    return [midi for midi in range(lowest, highest + 1) if midi not in left_out]


def _stand(standing: gate.Standing) -> int:
    return standing.notes_asked - len(standing.notes_short) if standing.days else 0


def _said(ward: Membership, first: dt.date, last: dt.date) -> QuerySet[Comment]:
    begins, ends = ward.studio.begins(first), ward.studio.begins(last + dt.timedelta(days=1))
    comments = Comment.objects.filter(horn__player=ward, made_at__gte=begins, made_at__lt=ends)
    homes = ward.guardians.values("user")
    return (
        comments.exclude(text="")
        .exclude(by=ward.user)
        .exclude(by__in=homes)
        .select_related("by")
        .order_by("-made_at")[:STAFF_WORDS]
    )
