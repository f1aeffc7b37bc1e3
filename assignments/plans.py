"""The tones of one practice day: planned when first opened, then fixed, so that two phones agree."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import Any, cast

from django.db import transaction
from django.utils import timezone
from django.utils.translation import gettext as _

from assignments import parts, planner, weeks
from assignments.exercises import Slot, kinds, slots_of, slots_of_budget
from assignments.models import DayPlan, Exercise, Try, Week
from assignments.refusals import Refusal
from studio.models import Horn

HURTS_IN = dt.timedelta(days=7)
HURTS_HALVE = 2  # so many stops for pain in that time, and the plan is halved


def plan_for(horn: Horn, on: dt.date) -> DayPlan | None:
    """The day's plan, made now if nobody opened it before. None: no week was ever set, or the last is long over."""
    known = DayPlan.objects.filter(horn=horn, on=on).select_related("week__set_by").first()
    if known is not None:
        return known
    week = weeks.in_force(horn, on)
    if week is None:
        return None
    with transaction.atomic():
        plan, is_new = DayPlan.objects.get_or_create(
            horn=horn, on=on, defaults={"week": week, "tones": _planned(horn, week, on)}
        )
        if is_new:
            parts.lay(week, on)
    return plan


def slots(plan: DayPlan) -> tuple[Slot, ...]:
    """What the plan asks for, in playing order."""
    return _slots(plan.tones)


def _slots(tones: Sequence[dict[str, Any]]) -> tuple[Slot, ...]:
    return tuple(Slot(place, tone["written_midi"], tone["tone"], lane=tone["lane"]) for place, tone in enumerate(tones))


def asked_for(
    exercise: Exercise, plan: DayPlan | None, wanted: Sequence[int] | None
) -> tuple[dt.date, tuple[Slot, ...]]:
    """The day and the tones that a recording of ``exercise`` answers; ``wanted``: places among them (None: all).

    Raises Refusal when there are no such places or none at all, or a plan of another week was named.
    """
    horn = exercise.week.horn
    if exercise.kind == "daily_tones":
        plan = plan or plan_for(horn, horn.studio.today())
        if plan is None or plan.week_id != exercise.week_id:
            raise Refusal("other_plan", _("That plan belongs to another week. Open Today for what is set now."), 409)
        on, every = plan.on, slots(plan)
    else:
        on, every = plan.on if plan else horn.studio.today(), slots_beside(exercise)
    if wanted is None:
        wanted = range(len(every))
    if not wanted or not set(wanted) <= set(range(len(every))) or len(set(wanted)) < len(wanted):
        raise Refusal("no_such_tone", _("A tone was named that isn’t asked for. Open Today again and choose."))
    return on, tuple(every[place] for place in wanted)


def slots_beside(exercise: Exercise) -> tuple[Slot, ...]:
    """The tones of an exercise that is not the day's plan: the same every day, or its horn's part of an ensemble."""
    if exercise.part:
        return parts.slots(exercise.part)
    week = exercise.week
    return slots_of(kinds()[exercise.kind], week.horn.written_range, week.excluded_written_midi)


def keep_sound_check(plan: DayPlan, heard: dict[str, Any]) -> None:
    """Keep the player's soft-to-loud of the day, and what the phone said of its microphone."""
    plan.sound_check = heard
    plan.save(update_fields=["sound_check"])


def stop_because_it_hurts(plan: DayPlan, *, teacher_may_know: bool) -> None:
    """End the day. It counts as practised; the teacher hears of it only where the family wants that."""
    plan.stopped_hurting_at = timezone.now()
    plan.teacher_may_know = teacher_may_know
    plan.save(update_fields=["stopped_hurting_at", "teacher_may_know"])


def hurt_days(horn: Horn, on: dt.date) -> set[dt.date]:
    """The days of the last week that ended because something hurt, on whichever horn: lip and hands are the same."""
    plans = DayPlan.objects.filter(horn__player=horn.player_id, stopped_hurting_at__isnull=False)
    return set(plans.filter(on__gt=on - HURTS_IN, on__lte=on).values_list("on", flat=True))


def ahead(horn: Horn, first: dt.date, days: int, most: int) -> list[tuple[dt.date, tuple[Slot, ...]]]:
    """What the coming days would ask for, should each of them be played: for paper, and kept nowhere.

    A day that was opened already stands as it is; a day without a week is left out. ``most``: tones a day.
    """
    played, found = _played(horn, first), []
    opened = {plan.on: plan for plan in DayPlan.objects.filter(horn=horn, on__gte=first).select_related("week")}
    for on in (first + dt.timedelta(days=step) for step in range(days)):
        week = weeks.in_force(horn, on)
        if week is None:
            continue
        asked = slots(opened[on]) if on in opened else _slots(_from(played, horn, week, on, most))
        found.append((on, asked[:most]))
        played += [planner.Play(on, one.written_midi, one.tone, "hit", _lane(one.lane)) for one in asked[:most]]
    return found


def _planned(horn: Horn, week: Week, on: dt.date) -> list[dict[str, Any]]:
    """The planner's answer from everything played before ``on``."""
    return _from(_played(horn, on), horn, week, on)


def _played(horn: Horn, before: dt.date) -> list[planner.Play]:
    tries = Try.objects.filter(horn=horn, on__lt=before, counts=True).order_by("on", "played_at", "slot")
    columns = tries.values_list(
        "on", "written_midi", "tone", "outcome", "lane"
    )  # not all that was heard of years of them
    return [planner.Play(on, midi, tone, outcome, _lane(lane)) for on, midi, tone, outcome, lane in columns]


def _from(
    played: Sequence[planner.Play], horn: Horn, week: Week, on: dt.date, most: int | None = None
) -> list[dict[str, Any]]:
    how_many = slots_of_budget(week.budget_minutes)
    if len(hurt_days(horn, on)) >= HURTS_HALVE:
        how_many //= 2
    planned = planner.plan(
        played,
        on=on,
        lowest_written=horn.lowest_written_midi,
        highest_written=horn.highest_keyed_written_midi,
        tones=week.exercises.get(kind="daily_tones").tones,
        slots=min(how_many, most or how_many),
        seed=on.toordinal() + horn.pk.int % 2**32,
        pins=[(pin["written_midi"], pin["tone"]) for pin in week.pins],
        excluded=week.excluded_written_midi,
    )
    return [
        {"written_midi": tone.written_midi, "tone": tone.tone, "lane": tone.lane, "why": tone.why}
        for tone in planned.tones
    ]


def _lane(kept: str) -> planner.Lane | None:
    """A try without a lane was played freely."""
    return cast(planner.Lane, kept) if kept else None
