"""One student since the last lesson: what changed, and at most seven moments worth hearing."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.template.defaultfilters import floatformat
from django.utils.formats import time_format
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import builds, gate, lessons, paper_days, stages, standings, weeks
from assignments.models import Comment, DayPlan, PrivateNote, Take, Try, Week
from assignments.queries import log, past
from assignments.queries.moment import MomentView, moment_views
from assignments.queries.said import said
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.whose import OfOneHorn
from assignments.spelled import capital
from studio import consent
from studio.models import Horn, User

CAME_RIGHT_MOST = 3
UNFOLDED = 2  # as many moments as a lesson has time for; the others are a line each until they are opened
LOG_SHOWN = 4
NOTES_SHOWN = 5
UNHEARD_SAID = 5  # of so many tones one: fewer are a door that fell shut, and mended by playing them again (ours)


@dataclass(frozen=True, slots=True)
class StudentPage(OfOneHorn):
    horn: Horn
    on: dt.date
    since: dt.date
    days: int  # since then
    build: str
    lesson: lessons.Lesson | None  # today's
    week: Week | None
    practised: int  # days since the last lesson …
    on_target: int
    moments: tuple[MomentView, ...]
    unheard: str  # when much of it could not be heard: how much, and why mostly
    came_right: tuple[Sounding, ...]
    rows: tuple[past.RangeRow, ...]
    stage: int
    ladder: standings.Ladder
    asks: bool
    log: tuple[log.LogEntry, ...]
    notes: tuple[Comment, ...]
    private_notes: tuple[PrivateNote, ...]
    hurt: bool
    not_heard_yet: int  # recordings that are still waiting to be measured
    may_record: bool
    paper: tuple[paper_days.Noted, ...]  # the last fortnight, the newest first

    @property
    def first_moments(self) -> tuple[MomentView, ...]:
        return self.moments[:UNFOLDED]

    @property
    def more_moments(self) -> tuple[MomentView, ...]:
        return self.moments[UNFOLDED:]

    @property
    def has_paper(self) -> bool:
        return any(day.noted for day in self.paper)

    @property
    def standing(self) -> gate.Standing:
        return self.ladder[self.stage]

    @property
    def is_new(self) -> bool:
        return not self.ladder[1].days and not self.has_paper

    @property
    def about(self) -> str:
        """The horn, its A and the targets; today's lesson before them."""
        horn = _("%(build)s, A = %(a4)s, %(level)s targets") % {
            "build": capital(self.build),
            "a4": floatformat(self.horn.a4_hz),
            "level": self.horn.get_level_display(),
        }
        if self.lesson is None:
            return f"{horn}."
        at = self.lesson.at
        lesson = _("Lesson today at %(time)s.") % {"time": time_format(at, "H:i")} if at else _("Lesson today.")
        return f"{lesson} {horn}."

    @property
    def headline(self) -> str:
        if self.standing.state == "paused":
            return _("%(name)s, %(line)s") % {"name": self.name, "line": self.gate_line}
        if self.is_new:
            return _("%(name)s, the first lesson") % {"name": self.name}
        return _("%(name)s, since last %(day)s") % {"name": self.name, "day": date_words(self.since, "l")}

    @property
    def summary(self) -> str:
        """What was played, in a line."""
        if self.is_new:
            return _("No takes yet.")
        words = ngettext(
            "Practised on %(played)d of %(days)d day, %(hits)d on target.",
            "Practised on %(played)d of %(days)d days, %(hits)d on target.",
            self.days,
        )
        return words % {
            "played": self.practised,
            "days": self.days,
            "hits": self.on_target,
        }

    @property
    def gate_line(self) -> str:
        return stages.line(self.ladder, self.on)

    @property
    def week_line(self) -> str:
        if self.week is None:
            return ""
        words = _("%(minutes)d minutes a day, %(first)s to %(last)s.") % {
            "minutes": self.week.budget_minutes,
            "first": date_words(self.week.starts_on, "j F"),
            "last": date_words(self.week.ends_on, "j F"),
        }
        return f"{words} {capital(self.week.focus)}." if self.week.focus else words


def since_lesson(horn: Horn, on: dt.date, reader: User) -> StudentPage:
    """The page of one horn, for one of the staff. A fixed number of queries."""
    changed = lessons.changed([horn.player], on)[horn.player_id]
    since = lessons.last(horn.player, on, changed)
    history = past.of_horn(horn)
    ladder = standings.ladders([horn], on)[horn.pk]
    stage = standings.stage_asked(ladder)
    plans = list(DayPlan.objects.filter(horn=horn, on__gte=since, on__lte=on))
    lately = [day for day in ladder[1].days if day.on >= since]
    paper = paper_days.lately(horn, on)
    practised_on = {day.on for day in lately} | {plan.on for plan in plans if plan.stopped_hurting_at}
    practised_on |= {day.on for day in paper if day.noted and day.on >= since}
    comments = list(Comment.objects.filter(horn=horn).select_related("by", "voice", "take__analysis"))
    return StudentPage(
        horn=horn,
        on=on,
        since=since,
        days=(on - since).days + (on in practised_on),  # today is one of them as soon as something was played
        build=builds.words(horn),
        lesson=lessons.held(horn.player, on, changed),
        week=weeks.in_force(horn, on),
        practised=len(practised_on),
        on_target=sum(day.on_target is True for day in lately),
        moments=moment_views(horn, history, since, ladder[stage].notes_short, comments, reader),
        unheard=_unheard(horn, history, since),
        came_right=_came_right(history, since),
        rows=past.range_rows(horn, history, ladder[1], _today(plans, on)),
        stage=stage,
        ladder=ladder,
        asks=standings.waits_for_an_ear(ladder, on),
        log=log.entries(horn, ladder)[:LOG_SHOWN],
        notes=tuple(comment for comment in comments if comment.about_try_id is None)[:NOTES_SHOWN],
        private_notes=tuple(horn.private_notes.select_related("by", "about_try")[:NOTES_SHOWN]),
        hurt=any(plan.stopped_hurting_at and plan.teacher_may_know for plan in plans),
        paper=paper,
        not_heard_yet=Take.objects.filter(horn=horn, settled_at=None).count(),
        may_record=consent.stands(horn.player),
    )


def _today(plans: Iterable[DayPlan], on: dt.date) -> set[tuple[int, str]]:
    return {(tone["written_midi"], tone["tone"]) for plan in plans if plan.on == on for tone in plan.tones}


def _unheard(horn: Horn, history: Sequence[past.Past], since: dt.date) -> str:
    lost = Try.objects.filter(horn=horn, counts=True, on__gte=since, outcome=Try.Outcome.UNREADABLE)
    told = Counter(said(row) for row in lost)
    many = sum(row.on >= since for row in history)
    if UNHEARD_SAID * told.total() < many or not told:
        return ""
    why = told.most_common(1)[0][0]
    words = _("%(n)d of %(many)d tones couldn’t be heard. The student mostly read: “%(why)s”")
    return words % {"n": told.total(), "many": many, "why": f"{why.happened} {why.to_do}".strip()}


def _came_right(history: Sequence[past.Past], since: dt.date) -> tuple[Sounding, ...]:
    """Tones on target now that were not yet the last time; the newest."""
    last: dict[tuple[int, str], str] = {}
    found = []
    for row in (row for row in history if row.speaks):
        what = (row.written_midi, row.tone)
        if row.on >= since and row.kept and row.outcome == Try.Outcome.HIT and last.get(what) == Try.Outcome.MISS:
            found.append(row.key)
        last[what] = row.outcome
    keys = found[-CAME_RIGHT_MOST:]
    heard = soundings(with_relations(Try.objects.filter(pk__in=keys)))
    return tuple(heard[key] for key in reversed(keys) if key in heard)
