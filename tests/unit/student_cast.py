"""Pim, Marisa and a week, for the tests of the student's pages."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from assignments.models import DayPlan, Week
from studio.models import Horn
from tests import people, played

TONES = ((67, "mf"), (73, "pp"), (60, "f"))


def plan(week: Week, tones: tuple[tuple[int, str], ...] = TONES, why: str = "oldest") -> DayPlan:
    """A day of these tones, opened already."""
    planned = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": why} for midi, tone in tones]
    return DayPlan.objects.create(horn=week.horn, week=week, on=week.horn.studio.today(), tones=planned)


def shown(client: Client, name: str, *args: object, status: int = 200, **query: str) -> str:
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == status
    return answer.content.decode()


def queries(look: Callable[[], object]) -> int:
    with CaptureQueriesContext(connection) as asked:
        look()
    return len(asked)


@pytest.fixture
def studio():
    return people.studio()


@pytest.fixture
def teacher(studio):
    return people.teacher(studio)


@pytest.fixture
def horn(studio, client) -> Horn:
    """Pim's, who is signed in."""
    horn = people.horn(studio)
    client.force_login(horn.player.user)
    return horn


@pytest.fixture
def week(horn, teacher) -> Week:
    return played.long_week(horn, teacher.user)
