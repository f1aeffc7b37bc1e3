"""When the lessons are: a student's weekday, and the days that differ from it. No clock: the day comes in."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from assignments.models import LessonDay
from studio.models import Membership, User

DAY, WEEK = dt.timedelta(days=1), dt.timedelta(weeks=1)
AHEAD = dt.timedelta(weeks=8)
BEHIND = dt.timedelta(weeks=13)  # longer than the longest holidays


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson; ``at``: studio-local, None where no hour is fixed."""

    on: dt.date
    at: dt.time | None


def between(player: Membership, first: dt.date, last: dt.date, differing: Iterable[LessonDay]) -> tuple[Lesson, ...]:
    """Every lesson from ``first`` to ``last``. ``differing``: the player's rows of those days, or more of them."""
    found: dict[dt.date, dt.time | None] = {}
    if player.lesson_weekday is not None:
        on = first + (player.lesson_weekday - first.weekday()) % 7 * DAY
        while on <= last:
            found[on] = player.lesson_at
            on += WEEK
    for row in differing:
        if row.falls_out:
            found.pop(row.on, None)
        elif first <= row.on <= last:
            found[row.on] = row.at or found.get(row.on)
    return tuple(Lesson(on, found[on]) for on in sorted(found))


def coming(player: Membership, on: dt.date) -> tuple[Lesson, ...]:
    """The lessons of the next eight weeks, today's among them. One query."""
    last = on + AHEAD
    return between(player, on, last, player.lesson_days.filter(on__range=(on, last)))


def upcoming(player: Membership, on: dt.date) -> Lesson | None:
    return next(iter(coming(player, on)), None)


def differ(player: Membership, *, by: User, on: dt.date, at: dt.time | None, falls_out: bool) -> LessonDay:
    """On this day the lesson is extra, at another hour, or falls out; said again, the last word holds."""
    row, _is_new = LessonDay.objects.update_or_create(
        player=player, on=on, defaults={"at": None if falls_out else at, "falls_out": falls_out, "by": by}
    )
    return row


def changed(players: Iterable[Membership], on: dt.date) -> defaultdict[UUID, list[LessonDay]]:
    """By player: the rows about ``on``, as ``last``, ``following`` and ``held`` want them. One query."""
    found: defaultdict[UUID, list[LessonDay]] = defaultdict(list)
    for row in LessonDay.objects.filter(player__in=players, on__range=(on - BEHIND, on + AHEAD)):
        found[row.player_id].append(row)
    return found


def last(player: Membership, on: dt.date, differing: Iterable[LessonDay]) -> dt.date:
    """The day of the latest lesson before ``on``; where there was none in three months, a week ago."""
    found = between(player, on - BEHIND, on - DAY, differing)
    return found[-1].on if found else on - WEEK


def following(player: Membership, on: dt.date, differing: Iterable[LessonDay]) -> dt.date:
    """The day of the next lesson after ``on``; where none is known for eight weeks, in a week."""
    found = between(player, on + DAY, on + AHEAD, differing)
    return found[0].on if found else on + WEEK


def from_on(player: Membership, on: dt.date, differing: Iterable[LessonDay]) -> dt.date:
    """The day of the next lesson, that of ``on`` too; ``on`` itself where none is known for eight weeks."""
    found = between(player, on, on + AHEAD, differing)
    return found[0].on if found else on


def held(player: Membership, on: dt.date, differing: Iterable[LessonDay]) -> Lesson | None:
    """The lesson of that day."""
    return next(iter(between(player, on, on, differing)), None)
