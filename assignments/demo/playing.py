"""What the demo students have played day by day: rendered, sent in like any recording, measured by the worker.

A day's plan depends on what was measured before, so each round waits for the worker.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Iterator
from random import Random

from analysis.synthesis import DYNAMIC_DB
from assignments import decisions, plans, standings
from assignments.demo import cast
from assignments.demo.cast import Player, players, set_week
from assignments.demo.sending import is_here, key_of, send, wait_for
from assignments.demo.sounding import recording, tone
from assignments.models import Decision, Take
from studio.models import Horn, User


def play_the_past(say: Callable[[str], object]) -> int:
    """Send in every day that the story tells and that isn't here yet. Returns how many takes were new.

    ``say``: told a line at a time, for whoever waits.
    """
    owner, horns, new = cast.owner(), cast.horns(), 0
    if owner is None:
        return 0
    for days_ago in sorted({day for player in players() for day in player.days_ago}, reverse=True):
        sent = [
            take
            for player in players()
            if days_ago in player.days_ago and player.user_name in horns
            for take in _play(player, horns[player.user_name], days_ago)
        ]
        if sent:
            say(f"The demo students play: {days_ago} days ago, {len(sent)} takes.")
            wait_for(sent)
            new += len(sent)
        _answer(days_ago, horns, owner.user)
    return new


def _play(player: Player, horn: Horn, days_ago: int) -> Iterator[Take]:
    """One student's twenty tones of one day, as one recording."""
    on = horn.studio.today() - dt.timedelta(days=days_ago)
    plan = plans.plan_for(horn, on)
    if plan is None:
        return
    slots = plans.slots(plan)
    plans.keep_sound_check(plan, {"softest_db": DYNAMIC_DB["ppp"], "loudest_db": DYNAMIC_DB["fff"]})
    dice = Random(f"{player.user_name} {days_ago}")
    key = key_of(horn.pk, on)
    if is_here(key):
        return
    specs = [tone(player, slot, dice, days_ago in player.rough_days_ago) for slot in slots]
    daily = plan.week.exercises.get(kind="daily_tones")
    yield send(horn, daily, on, slots, key, recording(player, horn, specs, dice))


def _answer(days_ago: int, horns: dict[str, Horn], owner: User) -> None:
    """The teacher of the story says yes on the day the rule is first met, and sets the week anew from the next."""
    for player in players():
        horn = horns.get(player.user_name)
        if horn is None or not player.teacher_says_yes or horn.decisions.filter(kind=Decision.Kind.CONFIRM).exists():
            continue
        on = horn.studio.today() - dt.timedelta(days=days_ago)
        if standings.standing(horn, 1, on).state == "ready":
            decisions.decide(
                horn=horn, by=owner, kind=Decision.Kind.CONFIRM, stage=1, on=on, words=player.teacher_says_yes
            )
            set_week(player, horn, owner, on + dt.timedelta(days=1))
