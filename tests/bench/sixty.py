"""A studio of sixty students and a year of their days as rows: what the pages of a teacher are timed on.

Django must be set up before this is loaded. Nothing in it was played: the rows are written as settling leaves them.
"""

from __future__ import annotations

import datetime as dt
import random
import uuid

from django.utils import timezone

from analysis.models import Analysis, Result
from assignments import gate, squeezes, weeks
from assignments.exercises import TONE_WORDS
from assignments.models import Exercise, PlayedDay, Take, Try
from studio.models import Horn, Studio
from tests import builders, people, played

STUDENTS, DAYS, TONES = 60, 365, 20
KEPT_DAYS = 60  # of the recordings, and so of what a page may play
AT_ONCE = 4000
NAMES = ("Ada", "Bo", "Cy", "Dot", "Eli", "Fay", "Gus", "Hal", "Ida", "Jo")
FAMILIES = ("Fenn", "Vane", "Tern", "Quay", "Larkspur", "Brill")


def lay() -> tuple[Studio, list[Horn]]:
    """The studio with its teacher ``marisa``, its horns, and all that was set and played."""
    where = people.studio()
    teacher = people.teacher(where).user
    routine = builders.routine()
    dice = random.Random(60)
    today = where.today()
    horns = []
    for number in range(STUDENTS):
        name = f"{NAMES[number % 10]}{number} {FAMILIES[number // 10]}"
        horn = people.horn(where, name, ("alto", "tenor", "soprano", "baritone")[number % 4], level="intermediate")
        horn.player.lesson_weekday, horn.player.lesson_at = number % 5, dt.time(15 + number % 4, 30)
        horn.player.save()
        horns.append(horn)
        for ago in range(DAYS // 7, -1, -1):
            weeks.set_week(
                horn=horn, by=teacher, routine=routine, starts_on=today - dt.timedelta(days=7 * ago + 3),
                ends_on=today - dt.timedelta(days=7 * ago - 3), focus="clean starts", block_kinds=["daily_tones"],
            )  # fmt: skip
        _play(horn, dice, today)
    return where, horns


def _play(horn: Horn, dice: random.Random, today: dt.date) -> None:
    """Five or six days of seven, a player between seven and nine tones of ten; the last days have sound."""
    skill = dice.uniform(0.7, 0.95)
    exercises = {row.week.starts_on: row for row in Exercise.objects.filter(week__horn=horn).select_related("week")}
    exercise = exercises[min(exercises)]
    made: list[Try] = []
    days: list[PlayedDay] = []
    for ago in range(DAYS, -1, -1):
        on = today - dt.timedelta(days=ago)
        exercise = exercises.get(on, exercise)
        if dice.random() < 0.2:
            continue
        takes = (
            [_take(exercise, on, slot) for slot in range(TONES)] if ago < KEPT_DAYS else [_take(exercise, on)] * TONES
        )
        tries = [_try(take, slot, dice, skill) for slot, take in enumerate(takes)]
        heard = [one for one in tries if one.outcome != "unreadable"]
        counted = bytes(one.written_midi + gate.HIT * (one.outcome == "hit") for one in heard)
        days.append(PlayedDay(horn=horn, on=on, counted=counted, in_range=True))
        made += tries
    _write(made)
    PlayedDay.objects.bulk_create(days)
    squeezes.look(horn, days[-1].on)


def _take(exercise: Exercise, on: dt.date, slot: int | None = None) -> Take:
    """Of one tone, its sound kept; or without ``slot`` of a day long ago, its sound deleted."""
    horn = exercise.week.horn
    at = timezone.now() - (horn.studio.today() - on) + dt.timedelta(seconds=12 * (slot or 0))
    analysis = Analysis(
        audio="" if slot is None else f"takes/{uuid.uuid4()}", audio_bytes=60_000, sha256="0" * 64, request={},
        state=Analysis.State.MEASURED, sent_at=at,
    )  # fmt: skip
    return Take(horn=horn, exercise=exercise, analysis=analysis, on=on, client_key=uuid.uuid4(), asked=[],
                received_at=at, settled_at=at)  # fmt: skip


def _try(take: Take, place: int, dice: random.Random, skill: float) -> Try:
    """One tone, asked for in its take."""
    note, tone = dice.randint(*take.horn.written_range), dice.choice(TONE_WORDS)
    outcome = "unreadable" if dice.random() < 0.05 else "hit" if dice.random() < skill else "miss"
    is_heard = outcome != "unreadable"
    slot = len(take.asked)
    take.asked.append({"slot": slot, "written_midi": note, "tone": tone, "partial": None, "lane": "coverage"})
    return Try(
        take=take, horn=take.horn, on=take.on, played_at=take.received_at + dt.timedelta(seconds=place), slot=slot,
        written_midi=note, tone=tone, lane="coverage", outcome=outcome, tone_index=0 if is_heard else None,
        checks=[played.check("pitch_climbs" if outcome == "miss" else None)] if is_heard else [],
        reasons=[] if is_heard else ["room_too_loud"],
    )  # fmt: skip


def _write(tries: list[Try]) -> None:
    takes = list({id(one.take): one.take for one in tries}.values())
    Analysis.objects.bulk_create((take.analysis for take in takes), AT_ONCE)
    Take.objects.bulk_create(takes, AT_ONCE)
    Try.objects.bulk_create(tries, AT_ONCE)
    Result.objects.bulk_create(
        (
            Result(analysis=one.take.analysis, engine="rows", report=played.report(one.written_midi, one.tone))
            for one in tries
            if one.take.analysis.audio
        ),
        AT_ONCE,
    )
