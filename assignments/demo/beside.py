"""What the demo students play beside their daily tones: runs, overtones, and one tone with their ensemble."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from dataclasses import replace
from random import Random

from django.db.models import QuerySet

from analysis.synthesis import ToneSpec
from assignments import parts, plans
from assignments.demo.cast import Beside, Player, beside, players, studio_id, together
from assignments.demo.sending import is_here, key_of, send, wait_for
from assignments.demo.sounding import a_good_one, recording, tone
from assignments.exercises import Slot
from assignments.models import Exercise, Take

RUN_TONE_S, RUN_BREATH_S = 3.4, 1.2  # shorter than a student's, so that a first start is over sooner


def play_beside() -> int:
    """Send in what isn't here yet, and wait for it. Returns how many takes were new."""
    by_name = {player.user_name: player for player in players()}
    sent = [take for row in beside() for take in _alone(by_name[row.user_name], row)]
    sent += [
        take for one in together() for name, cents in one.played.items() for take in _together(by_name[name], cents)
    ]
    wait_for(sent)
    return len(sent)


def _alone(player: Player, row: Beside) -> Iterator[Take]:
    exercise = _exercises(player).filter(kind=row.kind).select_related("week__horn__player__studio").first()
    if exercise is None:
        return
    horn, slots = exercise.week.horn, plans.slots_beside(exercise)
    for days_ago in row.days_ago:
        on = horn.studio.today() - dt.timedelta(days=days_ago)
        key = key_of(horn.pk, row.kind, on)
        if exercise.week.starts_on <= on and not is_here(key):
            dice = Random(f"{player.user_name} {row.kind} {days_ago}")
            specs = [_strayed(slot, row, dice) for slot in slots]
            yield send(horn, exercise, on, slots, key, recording(player, horn, specs, dice))


def _strayed(slot: Slot, row: Beside, dice: Random) -> ToneSpec:
    good = a_good_one(dice)
    hole_db, cents = row.hole_db.get(str(slot.written_midi), 0.0), row.cents.get(str(slot.slot), 0.0)
    faults = replace(good, level_db=hole_db, colour_db=hole_db / 2, cents=good.cents + cents)
    return ToneSpec(
        written_midi=slot.written_midi,
        dynamic=slot.asked().dynamic,
        partial=slot.partial,
        seconds=RUN_TONE_S,
        gap_s=RUN_BREATH_S,
        faults=faults,
    )


def _together(player: Player, cents: float) -> Iterator[Take]:
    """Yesterday's one tone for their ensemble."""
    mine = _exercises(player).exclude(part=None).order_by("part__chord__set_at")
    exercise = mine.select_related("part__chord", "part__horn", "week__horn__player__studio").first()
    key = key_of(player.user_name, "together")
    if exercise is None or exercise.part is None or is_here(key):
        return
    horn, dice = exercise.week.horn, Random(player.user_name)
    (slot,) = parts.slots(exercise.part)
    good = tone(player, slot, dice, rough=False)
    specs = [replace(good, faults=replace(good.faults, cents=cents))]
    on = horn.studio.today() - dt.timedelta(days=1)
    yield send(horn, exercise, on, (slot,), key, recording(player, horn, specs, dice))


def _exercises(player: Player) -> QuerySet[Exercise]:
    """What that student of the demo studio was set."""
    return Exercise.objects.filter(
        week__horn__player__user__username=player.user_name, week__horn__player__studio=studio_id()
    )
