"""After: what did I learn? Three things, then every tone of the day."""

from __future__ import annotations

import datetime as dt
import json
from collections import Counter
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, standings
from assignments.models import DayPlan, Try
from assignments.queries import past
from assignments.queries.around import around, neighbours
from assignments.queries.day import DayTone, OfOneDay, plan_of, takes_of, to_go, tones_of
from assignments.queries.said import Said
from assignments.queries.sounding import Sounding, soundings, with_relations
from assignments.queries.three import ThingView, Three, three
from assignments.queries.where import HeardTone, heard_tones
from assignments.spelled import capital, spelled
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class Trouble:
    """A recording that could not be used, and why."""

    title: str
    words: str


@dataclass(frozen=True, slots=True)
class AfterPage(OfOneDay):
    horn: Horn
    on: dt.date
    plan: DayPlan | None
    tones: tuple[DayTone, ...]
    heard: tuple[HeardTone, ...]  # in playing order
    day: gate.Verdict | None  # how the day counts so far
    three: Three | None
    least: int  # readable tones that make a day count
    neighbours: tuple[Sounding, ...]  # of the tone to listen to: below, it, above

    @property
    def state(self) -> str:
        """nothing, measuring, unreadable (none of it could be heard) or heard."""
        if not self.recorded:
            return "nothing"
        if self.on_the_way:
            return "measuring"
        return "heard" if any(one.row.outcome != Try.Outcome.UNREADABLE for one in self.heard) else "unreadable"

    @property
    def progress_mark(self) -> str:
        """Changes whenever something new was heard."""
        return f"{self.state} {self.recorded} {self.on_the_way} {len(self.heard)}"

    @property
    def headline(self) -> str:
        if not self.recorded:
            return _("Nothing played yet today")
        if self.recorded == len(self.tones):
            return _("That’s today’s %(many)s") % {"many": spelled(len(self.tones))}
        return ngettext("%(n)s of %(many)s so far", "%(n)s of %(many)s so far", self.recorded) % {
            "n": capital(spelled(self.recorded)),
            "many": spelled(len(self.tones)),
        }

    @property
    def unreadable(self) -> tuple[HeardTone, ...]:
        return tuple(one for one in self.heard if one.row.outcome == Try.Outcome.UNREADABLE)

    @property
    def mostly_unreadable(self) -> bool:
        return 2 * len(self.unreadable) > len(self.heard)

    @property
    def why_unreadable(self) -> Said | None:
        """What kept most of them from being heard, and what to change."""
        reasons = Counter(one.said for one in self.unreadable if one.said.happened)
        return reasons.most_common(1)[0][0] if reasons else None

    @property
    def is_over(self) -> bool:
        """Something hurt: nothing more is offered to play today."""
        return self.plan is not None and self.plan.stopped_hurting_at is not None

    @property
    def goes_on(self) -> bool:
        """In the middle of the day there are tones to go."""
        return not self.is_over and 0 < self.recorded < len(self.tones)

    @property
    def to_go(self) -> str:
        return to_go(len(self.tones) - self.recorded)

    @property
    def has_a_moment(self) -> bool:
        """There is something to hear first: the bright button is there."""
        return bool(self.three and self.three.listen and self.three.listen.can_be_heard)

    @property
    def neighbour_json(self) -> str:
        """For hear.js: the neighbours one after another."""
        return json.dumps([one.stretch for one in self.neighbours])

    @property
    def unreadable_slots(self) -> str:
        """Places in the plan, for playing them again."""
        rows = {one.row.pk for one in self.unreadable}
        return ",".join(str(tone.slot) for tone in self.tones if tone.counted and tone.counted.pk in rows)

    @property
    def day_words(self) -> str:
        if self.is_over:
            return _("Today counts as practised")
        if self.day is None or self.day.on_target is None:
            return _("It takes %(n)d tones that I can hear to count the day") % {"n": self.least}
        return _("Your day stands: it is on target") if self.day.on_target else _("Your day is kept")


def page(horn: Horn, on: dt.date) -> AfterPage:
    """A fixed number of queries."""
    plan = plan_of(horn, on)
    tones = tones_of(plan, takes_of(plan)) if plan else ()
    counted = [tone.counted.pk for tone in tones if tone.counted]
    rows = {row.pk: row for row in with_relations(Try.objects.filter(pk__in=counted))}
    heard = heard_tones([rows[key] for key in counted])
    standing = standings.standing(horn, on=on)
    found = three(horn, on, heard)
    return AfterPage(
        horn=horn,
        on=on,
        plan=plan,
        tones=tones,
        heard=heard,
        day=next((day for day in reversed(standing.days) if day.on == on), None),
        three=found,
        least=standing.rule.minimum_readable,
        neighbours=_beside(horn, found.listen) if found and found.listen else (),
    )


def _beside(horn: Horn, listen: ThingView) -> tuple[Sounding, ...]:
    if listen.heard is None or not listen.can_be_heard:
        return ()
    history = past.of_horn(horn)
    mine = next((one for one in history if one.key == listen.heard.row.pk), None)
    near = around(mine, history) if mine else {}
    keys = [near[side].key for side in ("below", "above") if side in near]
    return neighbours(near, soundings(with_relations(Try.objects.filter(pk__in=keys))), listen.heard.sounding)
