"""The week for several students at once: last week's again, one for all, or a pause for all.

Each student is a case of their own: what one may not have is left out of theirs, and whoever can't be given anything
is told of, with the reason. Nobody else waits for that.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from assignments import decisions, lessons, routines, standings, weeks
from assignments.exercises import USUAL_TEMPO
from assignments.models import Decision, Routine, Week
from assignments.refusals import Refusal
from studio.models import Horn, User

LESSON, DAY = "lesson", "day"  # when weeks begin: with each one's next lesson, or on one day for all


@dataclass(frozen=True, slots=True)
class Given:
    """What became of one student. ``refused``: why nothing was given; empty when it was."""

    horn: Horn
    refused: str = ""


def give(
    horns: Iterable[Horn],
    *,
    by: User,
    routine: Routine,
    starts_on: dt.date | None,
    beats_per_minute: int | None = None,
    pins: Sequence[Mapping[str, Any]] | None = None,
    **fields: Any,
) -> list[Given]:
    """The same week for all: of the routine every block whose gate is open for that student.

    ``starts_on``: None: with each one's next lesson. ``fields``: minutes a day, focus and words, as
    ``weeks.set_week`` takes them. What was left out for a student last week stays left out; without
    ``beats_per_minute`` and ``pins`` each keeps the tempo and the picks of last week.
    """
    tones = routines.daily_tones(routine)

    def one(horn: Horn) -> None:
        last, first = weeks.latest(horn), starts_on or with_lesson(horn)
        left_out = last.excluded_written_midi if last else ()
        picks = pins if pins is not None else last.pins if last else ()
        weeks.set_week(
            horn=horn,
            by=by,
            routine=routine,
            starts_on=first,
            ends_on=weeks.last_day(horn, first),
            beats_per_minute=beats_per_minute or (last.beats_per_minute if last else USUAL_TEMPO),
            excluded_written_midi=left_out,
            pins=_fitting(picks, horn, left_out, tones),
            **fields,
        )

    return _each(horns, one)


def _fitting(
    pins: Iterable[Mapping[str, Any]], horn: Horn, left_out: Collection[int], tones: Collection[str]
) -> list[dict[str, Any]]:
    """Of these picks those that this horn has, that are not left out and that the routine asks for."""
    low, high = horn.written_range
    return [
        dict(pin)
        for pin in pins
        if low <= pin["written_midi"] <= high and pin["written_midi"] not in left_out and pin["tone"] in tones
    ]


def with_lesson(horn: Horn) -> dt.date:
    """The day of the student's next lesson, today's too; today where none is known."""
    today = horn.studio.today()
    return lessons.from_on(horn.player, today, lessons.changed([horn.player], today)[horn.player_id])


def again(horns: Iterable[Horn], *, by: User, starts_on: dt.date | None) -> list[Given]:
    """For each their own last week once more, without the blocks whose gate has shut since. ``starts_on``: as above."""

    def one(horn: Horn) -> None:
        last = weeks.latest(horn)
        if last is None or last.routine is None:
            raise Refusal("no_last_week", _("There is no week to copy. Set one first."))
        _set_again(last, last.routine, horn, by, starts_on or with_lesson(horn))

    return _each(horns, one)


def _set_again(last: Week, routine: Routine, horn: Horn, by: User, starts_on: dt.date) -> None:
    on = min(starts_on, horn.studio.today())
    held = [row.kind for row in last.exercises.all() if not row.stage or standings.is_open(horn, row.stage, on)]
    weeks.set_week(
        horn=horn,
        by=by,
        routine=routine,
        starts_on=starts_on,
        ends_on=weeks.last_day(horn, starts_on),
        budget_minutes=last.budget_minutes,
        beats_per_minute=last.beats_per_minute,
        focus=last.focus,
        words=last.words,
        block_kinds=held,
        pins=last.pins,
        excluded_written_midi=last.excluded_written_midi,
    )


def pause(horns: Iterable[Horn], *, by: User, starts_on: dt.date, until_on: dt.date | None, words: str) -> list[Given]:
    """Holidays or exam weeks for all: the days between neither count nor are missed."""

    def one(horn: Horn) -> None:
        running = decisions.pause_on(horn, starts_on)
        # A pause that is replaced doesn't come back: whoever is ill without an end would be waited for after holidays.
        if running is not None and not _ends_before(running.until_on, until_on):
            raise Refusal(
                "longer_pause", _("A pause that lasts as long or longer stands already. It was left as it is.")
            )
        decisions.decide(horn=horn, by=by, kind=Decision.Kind.PAUSE, words=words, on=starts_on, until_on=until_on)

    return _each(horns, one)


def _ends_before(one: dt.date | None, other: dt.date | None) -> bool:
    """None: without an end."""
    return one is not None and (other is None or one < other)


def _each(horns: Iterable[Horn], one: Callable[[Horn], None]) -> list[Given]:
    done = []
    for horn in horns:
        try:
            with transaction.atomic():
                one(horn)
            done.append(Given(horn))
        except Refusal as refusal:
            done.append(Given(horn, refusal.text))
    return done
