"""The possible squeeze of soft tones, from measured tones to the teacher's pages."""

from __future__ import annotations

import dataclasses
import datetime as dt

import pytest
from django.urls import reverse

from analysis import results
from assignments import squeezes, standings
from assignments.exercises import Slot
from assignments.models import DayPlan, PlayedDay, Try
from tests import people, played

pytestmark = pytest.mark.django_db

DAY = dt.timedelta(days=1)
TONES = ((70, "mf"), (70, "pp"), (67, "mf"), (72, "mf"))


@pytest.fixture
def horn():
    return people.horn(people.studio())


@pytest.fixture
def teacher(horn, client):
    user = people.teacher(horn.studio).user
    client.force_login(user)
    return user


def heard(tone, **changes):
    """A measured take of one tone, with what is changed about it."""
    measured = results.measurement(played.report(70, tone))
    return dataclasses.replace(measured, tones=(dataclasses.replace(measured.tones[0], **changes),))


def play(week, on, *, soft_cents=0.0, soft_rise_s=0.05):
    """A day with a soft tone that lies so many cents over the others and rises so slowly."""
    for row in played.day(week, on, TONES):
        soft = row.tone == "pp"
        tone = heard(row.tone).tones[0]
        attack = dataclasses.replace(tone.attack, rise_s=soft_rise_s if soft else 0.05, air_before_s=0.0)
        take = heard(row.tone, pitch_cents=soft_cents if soft else 0.0, attack=attack)
        slot = Slot(0, row.written_midi, row.tone)
        row.soft_reading = squeezes.reading_of(slot, take, 0, on=on, set_up=squeezes.set_up_of(row.take))
        row.soft_reading["written_midi"] = row.written_midi
        row.save()
    standings.fold(week.horn, on)
    squeezes.look(week.horn, on)


def test_two_signs_on_two_days_are_found_and_open_in_the_teachers_pages(client, teacher, horn):
    week, today = played.long_week(horn, teacher), horn.studio.today()
    for ago in (3, 2, 1):
        play(week, today - ago * DAY, soft_cents=18.0, soft_rise_s=0.2)
    (found,) = PlayedDay.objects.get(on=today - DAY).squeezes
    assert found["written_midi"] == 70
    assert {sign["name"] for sign in found["signs"]} == {"sharp", "late"}
    newest = Try.objects.get(on=today - DAY, tone="pp")
    assert found["signs"][0]["try"] == str(newest.pk)
    assert "soft tones, 2 signs" in client.get(reverse("studio_today")).content.decode()
    text = client.get(reverse("student", args=[horn.pk])).content.decode()
    assert "Possible squeeze when soft: listen here. A leak or a hard reed sounds the same." in text
    assert "Soft, the note sits higher. Soft, the note takes a moment. <b>Two signs on three days." in text
    assert f"moment-{newest.pk}" in text


def test_one_sign_alone_says_nothing(teacher, horn):
    week, today = played.long_week(horn, teacher), horn.studio.today()
    for ago in (3, 2, 1):
        play(week, today - ago * DAY, soft_cents=18.0)
    assert PlayedDay.objects.get(on=today - DAY).squeezes == []


def test_one_day_alone_says_nothing(teacher, horn):
    week, today = played.long_week(horn, teacher), horn.studio.today()
    play(week, today - 2 * DAY)
    play(week, today - DAY, soft_cents=18.0, soft_rise_s=0.2)
    assert PlayedDay.objects.get(on=today - DAY).squeezes == []


def test_what_is_three_weeks_old_is_not_looked_at(teacher, horn):
    week, today = played.long_week(horn, teacher), horn.studio.today()
    for ago in (24, 23, 22):
        play(week, today - ago * DAY, soft_cents=18.0, soft_rise_s=0.2)
    play(week, today - DAY)
    assert PlayedDay.objects.get(on=today - DAY).squeezes == []


def test_shapes_and_what_could_not_be_read_have_nothing_to_say():
    on, swell = dt.date(2026, 3, 9), Slot(0, 70, "swell")
    assert squeezes.reading_of(swell, heard("swell"), 0, on=on, set_up="") is None
    soft = Slot(0, 70, "pp")
    assert squeezes.reading_of(soft, heard("pp", readable=False), 0, on=on, set_up="") is None
    assert squeezes.reading_of(soft, heard("pp"), None, on=on, set_up="") is None
    assert squeezes.reading_of(soft, None, None, on=on, set_up="") is None


def test_days_that_kept_one_sound_check_are_one_place(teacher, horn):
    week, today = played.long_week(horn, teacher), horn.studio.today()
    takes = {ago: played.day(week, today - ago * DAY, TONES[:1])[0].take for ago in (3, 2, 1)}
    for ago in (3, 2):
        check = {"softest_db": -41.5, "loudest_db": -15.0}
        DayPlan.objects.create(horn=horn, week=week, on=today - ago * DAY, tones=[], sound_check=check)
    places = {ago: squeezes.set_up_of(take) for ago, take in takes.items()}
    assert places[3] == places[2] != places[1]
