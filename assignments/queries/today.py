"""Today: what do I play?"""

from __future__ import annotations

import datetime as dt
from collections import Counter
from dataclasses import dataclass

from django.db.models import Q
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, plans, standings, weeks, words
from assignments.exercises import kinds
from assignments.models import Comment, DayPlan, Exercise, Part, Week
from assignments.queries import parts
from assignments.queries.day import DayTone, OfOneDay, takes_of, to_go, tones_of
from assignments.spelled import capital, spelled
from studio import consent
from studio.models import Horn

DAYS_SHOWN = 10


@dataclass(frozen=True, slots=True)
class OtherWork:
    """A run, overtones …: what the week holds beside the daily tones."""

    exercise: Exercise
    title: str
    summary: str
    is_open: bool


@dataclass(frozen=True, slots=True)
class OtherHorn:
    """Another one that the same student plays, and the week that is set for it."""

    horn: Horn
    week: Week | None


@dataclass(frozen=True, slots=True)
class TodayPage(OfOneDay):
    horn: Horn
    on: dt.date
    plan: DayPlan | None
    tones: tuple[DayTone, ...]
    days: tuple[gate.Verdict, ...]  # the last ten practice days, oldest first
    standing: gate.Standing
    other_work: tuple[OtherWork, ...]
    new_comments: int
    may_record: bool
    hurts: bool  # they stopped today because something did, on whichever horn
    hurt_often: bool  # lately: the plan is half as long
    sets_next: str  # who is to set the week that is missing
    other_horns: tuple[OtherHorn, ...]

    @property
    def state(self) -> str:
        """not_set, stopped, all_played, begun, easy, first or ready."""
        if self.plan is None:
            return "not_set"
        if self.hurts:
            return "stopped"
        if self.recorded:
            return "all_played" if self.recorded == len(self.tones) else "begun"
        if any(tone.why == "easy" for tone in self.tones):
            return "easy"
        return "ready" if self.standing.days else "first"

    @property
    def is_left_over(self) -> bool:
        """The week set is over, and its tones stay playable until a new one comes."""
        return self.plan is not None and self.plan.week.ends_on < self.on

    @property
    def _set_by(self) -> str:
        by = self.plan.week.set_by if self.plan else None
        return by.get_short_name() if by else ""

    @property
    def teacher(self) -> str:
        """Who set the week."""
        return self._set_by or _("Your teacher")

    @property
    def pause_words(self) -> str:
        """“On a pause until 16 March. Nothing counts against you.” Empty when there is none."""
        return words.headline(self.standing, "student") if self.standing.state == "paused" else ""

    @property
    def headline(self) -> str:
        many = len(self.tones)
        found = {
            "not_set": _("Nothing is set yet"),
            "stopped": _("You stopped for today"),
            "all_played": _("All %(many)s are played") % {"many": spelled(many)},
            "begun": to_go(many - self.recorded),
            "easy": _("Good to see you"),
        }
        return found.get(self.state) or self._budget()

    def _budget(self) -> str:
        if self.hurt_often:
            return _("%(tones)s tones today") % {"tones": capital(spelled(len(self.tones)))}
        minutes = self.plan.week.budget_minutes if self.plan else 0
        return _("%(minutes)s minutes, %(tones)s tones") % {
            "minutes": capital(spelled(minutes)),
            "tones": spelled(len(self.tones)),
        }

    @property
    def why(self) -> str:
        """“12 you haven’t played for longest, 7 that need work, 1 Ines picked.” On the first day all are new."""
        count, picked_by = Counter(tone.why for tone in self.tones), self._set_by or _("your teacher")
        if not any(day.on < self.on for day in self.days):
            count["new"] = count.pop("oldest", 0) + count.pop("needs_work", 0)
        parts = [
            count["new"] and ngettext("%(n)d new to you", "%(n)d new to you", count["new"]) % {"n": count["new"]},
            count["oldest"] and _("%(n)d you haven’t played for longest") % {"n": count["oldest"]},
            count["needs_work"]
            and ngettext("%(n)d that needs work", "%(n)d that need work", count["needs_work"])
            % {"n": count["needs_work"]},
            count["teacher"] and _("%(n)d %(teacher)s picked") % {"n": count["teacher"], "teacher": picked_by},
            count["easy"] and _("%(n)d easy ones, nothing to catch up") % {"n": count["easy"]},
        ]
        named = [str(part) for part in parts if part]
        return ", ".join(named) + "." if named else ""

    @property
    def on_target(self) -> str:
        """“Seven on target.”"""
        hits = sum(day.on_target is True for day in self.days)
        if not hits:
            return _("None on target yet.")
        return _("%(hits)s on target.") % {"hits": capital(spelled(hits))}


def page(horn: Horn, on: dt.date) -> TodayPage:
    """What a student sees first. A fixed number of queries once the day's plan is made."""
    plan = plans.plan_for(horn, on)
    standing = standings.standing(horn, on=on)
    exercises = _exercises(plan) if plan else []
    takes, hurt_days = takes_of(plan) if plan else [], plans.hurt_days(horn, on)
    return TodayPage(
        horn=horn,
        on=on,
        plan=plan,
        tones=tones_of(plan, takes) if plan else (),
        days=standing.days[-DAYS_SHOWN:],
        standing=standing,
        other_work=_other_work(horn, exercises, on),
        new_comments=Comment.objects.filter(horn=horn, seen_at=None).exclude(by=horn.player.user).count(),
        may_record=consent.stands(horn.player),
        hurts=on in hurt_days,
        hurt_often=len(hurt_days) >= plans.HURTS_HALVE,
        sets_next=(weeks.teacher_now(plan.week, horn) if plan else "") or _("Your teacher"),
        other_horns=_other_horns(horn, on),
    )


def _other_horns(horn: Horn, on: dt.date) -> tuple[OtherHorn, ...]:
    others = Horn.objects.filter(player=horn.player_id, put_away_on=None).exclude(pk=horn.pk)
    in_order = list(others.order_by("in_use_since_on", "pk"))
    set_weeks = weeks.in_force_of(in_order, on)
    return tuple(OtherHorn(one, set_weeks.get(one.pk)) for one in in_order)


def _exercises(plan: DayPlan) -> list[Exercise]:
    """The week's, without what was asked of an ensemble and is over. One query."""
    asked = Q(part=None) | Part.still_to_play(plan.on, "part__")
    return list(plan.week.exercises.filter(asked).select_related("part__chord__ensemble", "part__horn"))


def _other_work(horn: Horn, exercises: list[Exercise], on: dt.date) -> tuple[OtherWork, ...]:
    work = [exercise for exercise in exercises if exercise.kind != "daily_tones"]
    highest = max((exercise.stage for exercise in work), default=0)
    shut_from = next(
        (stage for stage in range(1, highest + 1) if standings.standing(horn, stage, on).state != "open"), highest + 1
    )
    found = [(exercise, kinds()[exercise.kind]) for exercise in work]
    return tuple(
        OtherWork(one, _(kind.title), parts.line(one.part) if one.part else _(kind.summary), one.stage < shut_from)
        for one, kind in found
    )
