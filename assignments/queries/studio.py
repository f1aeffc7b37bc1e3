"""The teacher's overview: one row a horn, the same handful of queries for any number of them."""

from __future__ import annotations

import datetime as dt
import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Max

from assignments import builds, gate, lessons, moments, standings
from assignments.models import DayPlan, Hearing, PlayedDay, Try
from studio.access import horns_of_studio
from studio.models import Horn, Studio, User

TALLY_DAYS = 14
SQUARES = 10
LOOK_BACK_DAYS = 90  # a note that wasn't played for longer counts as that long
MOMENT_S, SIX_TONES_S = 25, 120  # to hear and to think, for the line about the time it takes
SORTS = ("name", "horn", "practised", "on_target", "unplayed", "to_hear", "gate")


@dataclass(frozen=True, slots=True)
class Unplayed:
    """The note that waited longest, in practice days; ``at_least``: longer than anybody looked back."""

    written_midi: int
    days: int
    at_least: bool


@dataclass(frozen=True, slots=True)
class Row:
    horn: Horn
    build: str
    lesson_at: dt.time | None  # of today; None: no lesson, or no time for it
    lesson_today: bool
    practised: tuple[bool, ...]  # of the last 14 days, oldest first
    days: tuple[gate.Verdict, ...]  # the last ten that were played
    unplayed: Unplayed | None
    moments: tuple[moments.Moment, ...]
    squeeze_signs: int
    asks: bool
    stage: int
    standing: gate.Standing
    hurt: bool  # stopped because it hurt this week, and the family lets the teacher know
    heard_at: dt.datetime | None  # when this teacher last listened

    @property
    def name(self) -> str:
        return str(self.horn.player.user)

    @property
    def practised_days(self) -> int:
        return sum(self.practised)

    @property
    def on_target_days(self) -> int:
        return sum(day.on_target is True for day in self.days)

    @property
    def is_new(self) -> bool:
        return not self.standing.days


@dataclass(frozen=True, slots=True)
class StudioPage:
    on: dt.date
    lessons: tuple[Row, ...]
    asking: tuple[Row, ...]
    others: tuple[Row, ...]
    sort: str  # "": in groups
    backwards: bool

    @property
    def rows(self) -> tuple[Row, ...]:
        return (*self.lessons, *self.asking, *self.others)

    @property
    def practised_this_week(self) -> int:
        return sum(any(row.practised[-7:]) for row in self.rows)

    @property
    def paused(self) -> int:
        return sum(row.standing.state == "paused" for row in self.rows)

    @property
    def minutes_to_hear(self) -> int:
        seconds = sum(len(row.moments) * MOMENT_S + row.asks * SIX_TONES_S for row in self.rows)
        return math.ceil(seconds / 60)

    @property
    def first_to_hear(self) -> Row | None:
        waiting = [row for row in self.rows if row.moments or row.asks]
        return waiting[0] if waiting else None


def overview(user: User, studio: Studio, sort: str = "", backwards: bool = False) -> StudioPage:
    """Everybody, in three groups; or, sorted by one column, in one."""
    on = studio.today()
    rows = _rows(list(horns_of_studio(user)), user, on)
    if sort in SORTS:
        return StudioPage(on, (), (), tuple(sorted(rows, key=_by(sort), reverse=backwards)), sort, backwards)
    today = sorted((row for row in rows if row.lesson_today), key=lambda row: (row.lesson_at or dt.time.max, row.name))
    asking = [row for row in rows if row.asks and not row.lesson_today]
    others = [row for row in rows if not row.asks and not row.lesson_today]
    long_ago = dt.datetime.min.replace(tzinfo=dt.UTC)
    others.sort(key=lambda row: (row.heard_at or long_ago, row.name))
    return StudioPage(on, tuple(today), tuple(asking), tuple(others), "", False)


def _by(sort: str):  # type: ignore[no-untyped-def]  # a key for sorted: which type it gives depends on the column
    return {
        "name": lambda row: row.name.casefold(),
        "horn": lambda row: (row.build, row.name.casefold()),
        "practised": lambda row: (row.practised_days, row.practised),
        "on_target": lambda row: (row.on_target_days, len(row.days)),
        "unplayed": lambda row: -row.unplayed.days if row.unplayed else 1,
        "to_hear": lambda row: (not row.asks, -row.squeeze_signs, -len(row.moments)),
        "gate": lambda row: (_nearness(row), row.name.casefold()),
    }[sort]


def _nearness(row: Row) -> tuple[int, int, int]:
    """Who asks, then who is nearest to asking, then who is through, then who is away."""
    place = {"ready": 0, "building": 1, "shut": 1, "resting": 2, "open": 3, "paused": 4}[row.standing.state]
    return place, row.standing.rule.opens_at - row.standing.window.on_target, len(row.standing.notes_short)


def _rows(horns: Sequence[Horn], user: User, on: dt.date) -> list[Row]:
    ladders = standings.ladders(horns, on)
    played = _played(horns, on)
    stops = _stops(horns, on)
    missed = _missed(horns, on)
    heard = dict(Hearing.objects.filter(by=user, take__horn__in=horns).values_list("take__horn").annotate(at=Max("at")))
    return [
        _row(horn, on, ladders[horn.pk], played[horn.pk], stops[horn.pk], missed[horn.pk], heard.get(horn.pk))
        for horn in horns
    ]


def _row(
    horn: Horn,
    on: dt.date,
    ladder: standings.Ladder,
    played: Sequence[tuple[dt.date, bytes]],
    stops: Sequence[tuple[dt.date, bool]],
    missed: Sequence[moments.Missed],
    heard_at: dt.datetime | None,
) -> Row:
    stage = standings.stage_asked(ladder)
    practised_on = {day for day, _ in played} | {day for day, _ in stops}
    lesson_today = horn.player.lesson_weekday == on.weekday()
    since = lessons.last(horn.player.lesson_weekday, on)
    chosen = moments.choose([row for row in missed if row.on >= since], ladder[stage].notes_short)
    return Row(
        horn=horn,
        build=builds.words(horn),
        lesson_at=horn.player.lesson_at if lesson_today else None,
        lesson_today=lesson_today,
        practised=tuple(on - dt.timedelta(days=ago) in practised_on for ago in reversed(range(TALLY_DAYS))),
        days=ladder[1].days[-SQUARES:],
        unplayed=_unplayed(horn, played),
        moments=tuple(chosen),
        squeeze_signs=max((len(moment.codes) for moment in chosen if moment.why == "squeeze"), default=0),
        asks=standings.waits_for_an_ear(ladder, on),
        stage=stage,
        standing=ladder[stage],
        hurt=any(may_know and day > on - dt.timedelta(days=7) for day, may_know in stops),
        heard_at=heard_at,
    )


def _played(horns: Sequence[Horn], on: dt.date) -> defaultdict[object, list[tuple[dt.date, bytes]]]:
    """By horn: each day played lately, oldest first, with the counted tries of it."""
    rows = PlayedDay.objects.filter(horn__in=horns, on__gt=on - dt.timedelta(days=LOOK_BACK_DAYS), on__lte=on)
    found: defaultdict[object, list[tuple[dt.date, bytes]]] = defaultdict(list)
    for horn, day, counted in rows.order_by("on").values_list("horn", "on", "counted"):
        found[horn].append((day, bytes(counted)))
    return found


def _stops(horns: Sequence[Horn], on: dt.date) -> defaultdict[object, list[tuple[dt.date, bool]]]:
    """By horn: days that ended because something hurt (they count as practised), and whether the teacher may know."""
    since = on - dt.timedelta(days=TALLY_DAYS)
    rows = DayPlan.objects.filter(horn__in=horns, on__gt=since, on__lte=on, stopped_hurting_at__isnull=False)
    found: defaultdict[object, list[tuple[dt.date, bool]]] = defaultdict(list)
    for horn, day, may_know in rows.values_list("horn", "on", "teacher_may_know"):
        found[horn].append((day, may_know))
    return found


def _missed(horns: Sequence[Horn], on: dt.date) -> defaultdict[object, list[moments.Missed]]:
    """By horn: what was not yet on target in the last week, which holds every last lesson."""
    rows = Try.objects.filter(
        horn__in=horns, on__gte=on - dt.timedelta(days=lessons.WEEK), on__lte=on, counts=True, outcome=Try.Outcome.MISS
    )
    found: defaultdict[object, list[moments.Missed]] = defaultdict(list)
    for horn, key, day, at, slot, *values in rows.values_list(
        "horn", "pk", "on", "played_at", "slot", "written_midi", "tone", "checks"
    ):
        found[horn].append(moments.Missed(key, day, (at, slot), *values))
    return found


def _unplayed(horn: Horn, played: Sequence[tuple[dt.date, bytes]]) -> Unplayed | None:
    """The note of the horn that was heard longest ago, counted in days on which something was played."""
    if not played:
        return None
    low, high = horn.written_range
    ago: dict[int, int] = {}
    for days, (_, counted) in enumerate(reversed(played)):
        for byte in counted:
            ago.setdefault(byte % gate.HIT, days)
    longest = max(range(low, high + 1), key=lambda note: (ago.get(note, len(played)), -note))
    return Unplayed(longest, ago.get(longest, len(played)), longest not in ago)
