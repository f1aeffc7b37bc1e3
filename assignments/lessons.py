"""When the lessons are: a student's weekday in studio-local days. No clock: the day comes in."""

from __future__ import annotations

import datetime as dt

WEEK = 7


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
