"""The profile of the up-and-down run, week over week."""

from __future__ import annotations

import datetime as dt

import pytest
from django.urls import reverse

from assignments import spots
from assignments.models import Take
from assignments.queries import evenness as evenness_query
from tests import people, played
from tests.unit.test_spots import run

pytestmark = pytest.mark.django_db


@pytest.fixture
def horn():
    return people.horn(people.studio())


@pytest.fixture
def week(horn):
    return played.long_week(horn, people.teacher(horn.studio).user)


def test_the_run_of_a_week_ago_lies_dashed_under_the_newest_and_what_moved_is_named(client, horn, week):
    client.force_login(horn.player.user)
    for days_ago, room in ((15, {66: -9.0}), (8, {73: -9.0}), (0, {80: -9.0})):
        run(week, room, days_ago=days_ago)
        spots.look(horn)
    page = evenness_query.page(horn)
    assert page.profile.before
    assert page.week_ago.on == horn.studio.today() - dt.timedelta(days=8)
    assert (page.week_ago.nearer, page.week_ago.further) == ((73,), (80,))
    text = client.get(reverse("evenness")).content.decode()
    assert "Nearer to the line since then: C" in text
    assert "Further from it: G" in text


def test_two_runs_alike_have_moved_nothing_and_two_of_one_day_are_not_compared(client, horn, week):
    for days_ago in (7, 0):
        run(week, {73: -9.0}, days_ago=days_ago)
        spots.look(horn)
    assert evenness_query.page(horn).week_ago.words.endswith("No note has moved for sure.")
    Take.objects.update(on=horn.studio.today())
    assert evenness_query.page(horn).week_ago is None
