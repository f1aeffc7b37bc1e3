"""Whom the week for many is ticked for, when it begins, and what stands there while nobody is here."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.template.defaultfilters import date as date_words
from django.urls import reverse
from django.utils import timezone

from assignments import routines, weeks
from assignments.models import Week
from tests import builders, people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("signed_in")]


DAY = dt.timedelta(days=1)
ROUTINE = next(iter(routines.table()))


def ticked(client, who=""):
    text = client.get(reverse("many_weeks"), {"who": who} if who else {}).content.decode()
    return len(re.findall(r'name="horns" value="[^"]+" checked', text))


def test_everybody_whose_week_is_over_or_nobody(client, studio, teacher):
    horns = [people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane", "Cy Larkspur")]
    builders.week(horns[0], teacher)
    assert [ticked(client, who) for who in ("", "over", "all", "none", "nonsense")] == [2, 2, 3, 0, 2]


def test_with_nobody_here_nobody_is_said_to_have_a_week(client, studio):
    text = client.get(reverse("many_weeks")).content.decode()
    assert "Weeks are given to students; there is none yet." in text
    assert "Everybody has a week." not in text


def test_weeks_may_begin_with_each_ones_next_lesson(client, studio):
    today = studio.today()
    horns = [people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane", "Cy Larkspur")]
    for horn, ahead in zip(horns, (0, 3), strict=False):
        horn.player.lesson_weekday = (today + ahead * DAY).weekday()
        horn.player.save()
    first, last = (date_words(today + ahead * DAY, "D j M") for ahead in (3, 9))
    assert f"a new one: {first} to {last}" in client.get(reverse("many_weeks")).content.decode()
    sent = {"horns": [str(horn.pk) for horn in horns], "begins": "lesson", "starts_on": str(today + 20 * DAY)}
    client.post(reverse("many_weeks"), {**sent, "what": "new", "routine": str(ROUTINE), "budget_minutes": "5"})
    given = [weeks.latest(horn) for horn in horns]
    assert [week.starts_on - today for week in given] == [0 * DAY, 3 * DAY, 0 * DAY]
    assert [week.ends_on - today for week in given] == [6 * DAY, 9 * DAY, 6 * DAY]
    client.post(reverse("many_weeks"), {**sent, "what": "again"})
    assert [weeks.latest(horn).starts_on - today for horn in horns] == [0 * DAY, 3 * DAY, 0 * DAY]


def test_while_everybody_has_a_week_a_new_one_waits_for_the_lesson(client, studio, teacher):
    horns = [people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane")]
    chosen = r'name="begins" value="(\w+)" checked'
    assert re.findall(chosen, client.get(reverse("many_weeks")).content.decode()) == ["day"]
    for horn in horns:
        played.long_week(horn, teacher)
    assert re.findall(chosen, client.get(reverse("many_weeks")).content.decode()) == ["lesson"]


def give(client, horn):
    on = horn.studio.today()
    sent = {"routine": str(ROUTINE), "blocks": ["daily_tones"], "budget_minutes": "5", "starts_on": str(on)}
    address = reverse("week", args=[horn.pk])
    return client.post(address, {**sent, "ends_on": str(on + DAY)}, follow=True).content.decode()


def test_from_one_week_to_the_next_until_everybody_has_theirs(client, studio, teacher):
    ada, bo, cy = (people.horn(studio, name) for name in ("Ada Fenn", "Bo Vane", "Cy Larkspur"))
    played.long_week(bo, teacher)
    Week.objects.update(set_at=timezone.now() - 2 * DAY)
    text = give(client, ada)
    assert "Ada has this week, until" in text
    assert f'<a href="{reverse("week", args=[cy.pk])}">Next: Cy’s week</a>' in text
    text = give(client, cy)
    assert "Cy has this week, until" in text
    assert "Next:" not in text
