"""What the demo students have played: rendered day by day, sent in like any recording, measured by the worker.

A day's plan depends on what was measured before, so each round waits for the worker.
"""

from __future__ import annotations

import datetime as dt
import time
import uuid
import zoneinfo
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from django.core.files.base import ContentFile

from analysis.synthesis import DYNAMIC_DB, Faults, GainControl, Place, Room, ToneSpec, render, write
from assignments import decisions, parts, plans, standings, takes
from assignments.demo.cast import Player, players, together
from assignments.exercises import SHAPED, TONE_WORDS, Slot
from assignments.models import Decision, Exercise, Take
from studio.models import Horn, User

PLAYED_AT = dt.time(17, 10)
TONE_S = 7.6  # eight beats, one a second, a little less
PATIENCE_S = 600.0  # for the worker to measure one round
NAMESPACE = uuid.UUID(
    "5b0ff6f4-6c1e-4f4b-9d1c-0f2a6b6b9f57"
)  # the same day is the same recording: starting again adds nothing
SLIPS = (
    Faults(cents=26.0, hnr_db=32.0),
    Faults(cents=-28.0, hnr_db=32.0),
    Faults(scoop_cents=-90.0, scoop_s=0.3, rise_s=0.2),
    Faults(unsteady_cents=16.0, level_unsteady_db=2.4),
    Faults(air_before_s=0.35, rise_s=0.24),
    Faults(level_drift_db=-7.0, drift_cents=-26.0),
)


def play_the_past(say) -> int:  # type: ignore[no-untyped-def]  # say: a line at a time, to whoever waits
    """Send in every day that the story tells and that isn't here yet. Returns how many takes were new."""
    horns = {horn.player.user.username: horn for horn in Horn.objects.select_related("player__user", "player__studio")}
    new = 0
    for days_ago in sorted({day for player in players() for day in player.days_ago}, reverse=True):
        sent = [
            take
            for player in players()
            if days_ago in player.days_ago and player.user_name in horns
            for take in _play(player, horns[player.user_name], days_ago)
        ]
        if sent:
            say(f"The demo students play: {days_ago} days ago, {len(sent)} takes.")
            _wait_for(sent)
            new += len(sent)
        _answer(days_ago, horns)
    sent = list(_play_together())
    _wait_for(sent)
    return new + len(sent)


def _play(player: Player, horn: Horn, days_ago: int) -> Iterator[Take]:
    """One student's twenty tones of one day, as one recording."""
    on = horn.studio.today() - dt.timedelta(days=days_ago)
    plan = plans.plan_for(horn, on)
    if plan is None:
        return
    slots = plans.slots(plan)
    plans.keep_sound_check(plan, {"softest_db": DYNAMIC_DB["ppp"], "loudest_db": DYNAMIC_DB["fff"]})
    dice = Random(f"{player.user_name} {days_ago}")
    key = uuid.uuid5(NAMESPACE, f"{horn.pk} {on}")
    if Take.objects.filter(horn=horn, client_key=key).exists():
        return
    specs = [_tone(player, slot, dice, days_ago in player.rough_days_ago) for slot in slots]
    daily = plan.week.exercises.get(kind="daily_tones")
    yield _sent(horn, daily, on, slots, key, _recording(player, horn, specs, dice))


def _play_together() -> Iterator[Take]:
    """Yesterday's one tone for their ensemble, of whom the story lets play it."""
    by_name = {player.user_name: player for player in players()}
    for name, cents in ((name, cents) for one in together() for name, cents in one.played.items()):
        mine = Exercise.objects.filter(part__horn__player__user__username=name).select_related(
            "part__chord", "part__horn"
        )
        exercise = mine.select_related("week__horn__player__studio").order_by("part__chord__set_at").first()
        key = uuid.uuid5(NAMESPACE, f"{name} together")
        if exercise is None or exercise.part is None or Take.objects.filter(client_key=key).exists():
            continue
        horn, dice = exercise.week.horn, Random(name)
        (slot,) = parts.slots(exercise.part)
        tone = _tone(by_name[name], slot, dice, rough=False)
        specs = [replace(tone, faults=replace(tone.faults, cents=cents))]
        on = horn.studio.today() - dt.timedelta(days=1)
        yield _sent(horn, exercise, on, (slot,), key, _recording(by_name[name], horn, specs, dice))


def _sent(horn: Horn, exercise: Exercise, on: dt.date, slots: Sequence[Slot], key: uuid.UUID, audio: bytes) -> Take:
    return takes.keep(
        horn=horn,
        exercise=exercise,
        on=on,
        slots=slots,
        client_key=key,
        audio=ContentFile(audio, name="take"),
        recorder={"made_by": "synthesis"},
        received_at=dt.datetime.combine(on, PLAYED_AT, zoneinfo.ZoneInfo(horn.studio.time_zone)),
    )[0]


def _recording(player: Player, horn: Horn, specs: Sequence[ToneSpec], dice: Random) -> bytes:
    place = Place(
        room=Room(direct_to_reverberant_db=12.0),
        noise_dbfs=player.noise_dbfs,
        gain_control=GainControl() if player.gain_control else None,
    )
    samples, _ = render(specs, horn.kind, horn.a4_hz, seed=dice.randrange(2**32), place=place)
    with TemporaryDirectory(prefix="footing-demo-") as folder:
        file = Path(folder) / "take.webm"
        write(file, samples, "webm")
        return file.read_bytes()


def _tone(player: Player, slot: Slot, dice: Random, rough: bool) -> ToneSpec:
    faults, asked = _faults(player, slot, dice, rough), slot.asked()
    if slot.tone in SHAPED:
        return ToneSpec(written_midi=slot.written_midi, shape=asked.shape, seconds=TONE_S, gap_s=1.2, faults=faults)
    return ToneSpec(
        written_midi=slot.written_midi,
        dynamic=asked.dynamic,
        seconds=TONE_S,
        gap_s=1.2,
        breath=dice.random() < 0.5,
        faults=faults,
    )


def _faults(player: Player, slot: Slot, dice: Random, rough: bool) -> Faults:
    soft = player.tight_below and slot.tone in TONE_WORDS[: TONE_WORDS.index(player.tight_below)]
    if soft and dice.random() < 0.7:
        return Faults(
            cents=dice.uniform(14, 24), rise_s=0.2, air_before_s=0.15, colour_db=-9.0, hnr_db=24.0, collapse_db=4.0
        )
    slips = dice.random() < (0.45 if rough else player.slip_share)
    if slips or (slot.written_midi in player.weak_notes and dice.random() < 0.8):
        return dice.choice(SLIPS)
    return Faults(
        cents=dice.gauss(0, 2.5),
        unsteady_cents=abs(dice.gauss(0, 0.8)),
        level_unsteady_db=abs(dice.gauss(0, 0.15)),
        scoop_cents=dice.gauss(0, 4),
        rise_s=dice.uniform(0.025, 0.05),
        release_s=dice.uniform(0.05, 0.12),
        hnr_db=dice.uniform(34, 44),
    )


def _wait_for(sent: list[Take]) -> None:
    """Until the worker has measured and settled them. Raises TimeoutError when nobody works."""
    patience_ends = time.monotonic() + PATIENCE_S
    keys = [take.pk for take in sent]
    while Take.objects.filter(pk__in=keys, settled_at=None).exists():
        if time.monotonic() > patience_ends:
            raise TimeoutError("No worker measures the demo takes. Start Footing with `manage.py serve`.")
        time.sleep(0.2)


def _answer(days_ago: int, horns: dict[str, Horn]) -> None:
    """The teacher of the story says yes on the day after the rule is first met."""
    owner = User.objects.get(memberships__role="owner")
    for player in players():
        horn = horns.get(player.user_name)
        if horn is None or not player.teacher_says_yes or horn.decisions.filter(kind=Decision.Kind.CONFIRM).exists():
            continue
        on = horn.studio.today() - dt.timedelta(days=days_ago)
        if standings.standing(horn, 1, on).state == "ready":
            decisions.decide(
                horn=horn, by=owner, kind=Decision.Kind.CONFIRM, stage=1, on=on, words=player.teacher_says_yes
            )
