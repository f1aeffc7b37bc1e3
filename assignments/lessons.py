"""When the lessons are: a student's weekday, and the days that differ from it. No clock: the day comes in."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from assignments.models import LessonDay
from studio.models import Membership, User

WEEK = 7
AHEAD = dt.timedelta(weeks=8)


@dataclass(frozen=True, slots=True)
class Lesson:
    """One lesson; ``at``: studio-local, None where no hour is fixed."""

    on: dt.date
    at: dt.time | None


def between(player: Membership, first: dt.date, last: dt.date, differing: Iterable[LessonDay]) -> tuple[Lesson, ...]:
    """Every lesson from ``first`` to ``last``. ``differing``: the player's rows of those days, or more of them."""
    found: dict[dt.date, dt.time | None] = {}
    if player.lesson_weekday is not None:
        on = following(player.lesson_weekday, first - dt.timedelta(days=1))
        while on <= last:
            found[on] = player.lesson_at
            on += dt.timedelta(days=WEEK)
    for row in differing:
        if row.falls_out:
            found.pop(row.on, None)
        elif first <= row.on <= last:
            found[row.on] = row.at or player.lesson_at
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


def last(weekday: int | None, on: dt.date) -> dt.date:
    """The day of the latest lesson before ``on``; without a fixed day, a week ago."""
    if weekday is None:
        return on - dt.timedelta(days=WEEK)
    return on - dt.timedelta(days=(on.weekday() - weekday - 1) % WEEK + 1)


def following(weekday: int | None, on: dt.date) -> dt.date:
    """The day of the next lesson after ``on``; without a fixed day, in a week."""
    if weekday is None:
        return on + dt.timedelta(days=WEEK)
    return on + dt.timedelta(days=(weekday - on.weekday() - 1) % WEEK + 1)
