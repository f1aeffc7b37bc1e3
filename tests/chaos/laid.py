"""Students on the day before their first gate opens: one more good day, and it opens exactly once."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from uuid import UUID

from django.test import Client

from analysis.synthesis import ToneSpec, render, write
from assignments.models import DayPlan, GateRule
from studio.models import User
from tests import builders, people, played

NOTES = tuple(range(60, 80))  # a tone that is played again on one day does not count again
TONES_A_DAY = 20
DAYS_BEFORE = 9  # the rule looks at ten
TONE_S = 2.5
CSRF = "c" * 32


@dataclass(frozen=True, slots=True)
class Student:
    """What a phone needs to send takes, and the test to find them again."""

    horn: UUID
    exercise: UUID
    plan: UUID
    cookies: str


def students(how_many: int) -> list[Student]:
    """A studio whose first gate asks for the rule alone, and its students."""
    where = people.studio()
    teacher = people.teacher(where).user
    begins_on = where.today() - dt.timedelta(days=60)
    GateRule.objects.create(studio=where, chosen={}, ear_stages=[2, 3], from_on=begins_on, by=teacher)
    return [_student(where, teacher, number) for number in range(how_many)]


def _student(where, teacher, number: int) -> Student:  # type: ignore[no-untyped-def]  # rows of the cast
    horn = people.horn(where, f"player{number} Larkspur")
    week = played.long_week(horn, teacher)
    today = where.today()
    played.good_days(week, today - dt.timedelta(days=1), DAYS_BEFORE, audio=None)
    tones = [
        {"written_midi": NOTES[place % len(NOTES)], "tone": "mf", "lane": "coverage", "why": ""}
        for place in range(TONES_A_DAY)
    ]
    plan = DayPlan.objects.create(horn=horn, week=week, on=today, tones=tones)
    return Student(horn.pk, builders.daily(week).pk, plan.pk, cookies_of(horn.player.user))


def cookies_of(user: User) -> str:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return f"footing={client.cookies['footing'].value}; footing-csrf={CSRF}"


def sounds(folder: Path) -> dict[int, bytes]:
    """One short steady tone for each note that is asked for, as a phone sends it."""
    made = {}
    for note in NOTES:
        file = folder / f"{note}.webm"
        write(file, render([ToneSpec(written_midi=note, dynamic="mf", seconds=TONE_S)], "alto", seed=note)[0], "webm")
        made[note] = file.read_bytes()
    return made
