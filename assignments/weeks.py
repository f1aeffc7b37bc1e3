"""Setting a week: the foundation always, what extends it only while its gate is open."""

from __future__ import annotations

import datetime as dt
from collections.abc import Collection, Iterable, Sequence
from typing import Any
from uuid import UUID

from django.db import transaction
from django.utils.translation import gettext as _

from assignments import ear_answers, lessons, standings, targets
from assignments.exercises import USUAL_TEMPO, kinds
from assignments.models import Exercise, LessonDay, Routine, Week
from assignments.refusals import Refusal
from studio.access import DECIDERS, place_held
from studio.models import Horn, User

STAYS_DAYS = targets.STAYS_DAYS


def set_week(
    *,
    horn: Horn,
    by: User,
    routine: Routine,
    starts_on: dt.date,
    ends_on: dt.date,
    budget_minutes: int = 5,
    beats_per_minute: int = USUAL_TEMPO,
    focus: str = "",
    words: str = "",
    block_kinds: Sequence[str] | None = None,
    target_changes: Sequence[dict[str, Any]] = (),
    pins: Sequence[dict[str, Any]] = (),
    excluded_written_midi: Sequence[int] = (),
) -> Week:
    """Write down what is set. ``block_kinds``: which of the routine's blocks (default: every one whose gate is open).

    Raises Refusal when a chosen block's gate is shut, the foundation is left out, or the dates run backwards.
    """
    if ends_on < starts_on:
        raise Refusal("dates_backwards", _("The last day lies before the first. Change one of them."))
    lowest, highest = horn.written_range
    if set(range(lowest, highest + 1)) <= set(excluded_written_midi):
        raise Refusal("no_note_left", _("Every note is left out. Take at least one back in."))
    blocks = _blocks(horn, routine, block_kinds, starts_on)
    with transaction.atomic():
        Horn.objects.select_for_update().get(pk=horn.pk)  # a target moved at the same moment is in this week or added
        week = Week.objects.create(
            horn=horn,
            routine=routine,
            set_by=by,
            starts_on=starts_on,
            ends_on=ends_on,
            budget_minutes=budget_minutes,
            beats_per_minute=beats_per_minute,
            focus=focus,
            words=words,
            level=horn.level,
            pins=list(pins),
            target_changes=[*_frozen_changes(horn, starts_on), *target_changes],
            excluded_written_midi=list(excluded_written_midi),
        )
        _lay(week, blocks)
    return week


def _lay(week: Week, blocks: Sequence[dict[str, Any]]) -> None:
    Exercise.objects.bulk_create(
        Exercise(
            week=week,
            position=place,
            kind=block["kind"],
            stage=kinds()[block["kind"]].stage,
            tones=block.get("tones") or list(kinds()[block["kind"]].tones),
        )
        for place, block in enumerate(blocks)
    )


def _frozen_changes(horn: Horn, on: dt.date) -> list[dict[str, Any]]:
    """What holds for this horn from that day, whatever is changed later."""
    return [*_own_lies(horn, on), *ear_answers.changes(horn, on), *targets.changes(horn)]


def _own_lies(horn: Horn, on: dt.date) -> list[dict[str, Any]]:
    """Where this horn's own notes lie, as changes to the pitch target: the student is judged against them."""
    return [
        {"measure": "note_offset_cents", "value": cents, "from": on.isoformat(), "written_midi": int(midi)}
        for midi, cents in horn.note_offsets_cents.items()
    ]


def _blocks(horn: Horn, routine: Routine, chosen: Sequence[str] | None, on: dt.date) -> list[dict[str, Any]]:
    """The routine's chosen blocks, the foundation first whatever their order in the routine."""
    open_stages = {0} | {
        stage
        for stage in {kinds()[block["kind"]].stage for block in routine.blocks} - {0}
        if standings.is_open(horn, stage, min(on, horn.studio.today()))
    }
    blocks = sorted(routine.blocks, key=lambda block: kinds()[block["kind"]].stage)
    if chosen is None:
        blocks = [block for block in blocks if kinds()[block["kind"]].stage in open_stages]
    else:
        blocks = [block for block in blocks if block["kind"] in chosen]
    shut = [block for block in blocks if kinds()[block["kind"]].stage not in open_stages]
    if shut:
        title = _(kinds()[shut[0]["kind"]].title)
        raise Refusal(
            "gate_shut",
            _("“%(title)s” is shut until the foundation stands. Set the foundation alone.") % {"title": title},
            403,
        )
    if not any(block["kind"] == "daily_tones" for block in blocks):
        raise Refusal("no_foundation", _("A week stands on its daily tones. Choose them first."))
    return blocks


def last_day(horn: Horn, starts_on: dt.date, differing: Iterable[LessonDay] | None = None) -> dt.date:
    """The day before the student's next lesson after the first day: until then a new week lasts.

    ``differing``: as ``lessons.changed`` gives them; None: read here.
    """
    if differing is None:
        differing = lessons.changed([horn.player], starts_on)[horn.player_id]
    return lessons.following(horn.player, starts_on, differing) - lessons.DAY


def latest(horn: Horn) -> Week | None:
    """The week that begins last, to copy from."""
    return Week.objects.filter(horn=horn).select_related("routine").order_by("starts_on", "set_at").last()


def in_force(horn: Horn, on: dt.date) -> Week | None:
    """The week that holds on a day: the latest begun, and for a while after its end when none follows."""
    return in_force_of([horn], on).get(horn.pk)


def in_force_of(horns: Collection[Horn], on: dt.date) -> dict[UUID, Week]:
    """The same of many, by horn. One query."""
    begun = Week.objects.filter(horn__in=horns, starts_on__lte=on, ends_on__gte=on - dt.timedelta(days=STAYS_DAYS))
    return {week.horn_id: week for week in begun.select_related("set_by").order_by("starts_on", "set_at")}


def teacher_now(week: Week, horn: Horn) -> str:
    """Who set the horn's week, if the next may be theirs too; empty once they have left: somebody takes over."""
    by = week.set_by
    return by.get_short_name() if by and place_held(by, horn.player.studio_id, DECIDERS) else ""


def was_set(week: Week, on: dt.date) -> bool:
    """Whether ``week`` is what the student had on that day: by its plan, or because it is in force."""
    return week.day_plans.filter(on=on).exists() or in_force(week.horn, on) == week
