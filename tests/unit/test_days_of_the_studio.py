"""A studio's Sunday begins while it is Saturday by UTC: what was said that morning was said on Sunday."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from assignments import hearings, keeping
from assignments.models import Comment
from assignments.queries import agenda, at_home, logged
from studio.models import Membership
from tests import people, played

pytestmark = pytest.mark.django_db

SUNDAY = dt.date(2026, 3, 1)
MORNING = dt.datetime(2026, 2, 28, 19, 30, tzinfo=dt.UTC)  # half past eight in Auckland


@pytest.fixture(autouse=True)
def on_sunday_morning():
    with time_machine.travel(MORNING, tick=False):
        yield


@pytest.fixture
def horn(studio):
    studio.time_zone = "Pacific/Auckland"
    studio.save()
    horn = people.horn(studio)
    horn.player.lesson_weekday = SUNDAY.weekday()
    horn.player.save()
    return horn


def read(user, name: str, *args: object) -> str:
    client = Client()
    client.force_login(user)
    answer = client.get(reverse(name, args=args))
    assert answer.status_code == 200
    return answer.content.decode()


def test_pages_of_the_student_the_staff_and_the_family_give_a_word_its_day(horn, teacher, studio):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.add(horn.player)
    week = played.long_week(horn, teacher)
    (tried,) = played.day(week, SUNDAY, [(60, "mf")])
    Comment.objects.create(horn=horn, by=teacher, text="Wider air.")
    Comment.objects.create(horn=horn, by=teacher, text="This one.", about_try=tried, take=tried.take)
    assert "1 March</cite>" in read(horn.player.user, "lesson")
    assert "Sunday. “This one.”" in read(horn.player.user, "lesson")
    assert "1 March" in read(teacher, "student", horn.pk)
    assert "1 March</cite>" in read(teacher, "one_tone", tried.pk)
    assert "Sunday</cite>" in read(home.user, "one_tone", tried.pk)
    assert "1 March" in read(home.user, "home_messages", horn.player_id)
    assert "1 March" in read(home.user, "home_month", horn.player_id)


def test_it_is_a_word_of_this_month_and_not_of_the_last(horn, teacher):
    Comment.objects.create(horn=horn, by=teacher, text="Wider air.")
    assert [word.text for word in at_home.month(horn.player, SUNDAY).said] == ["Wider air."]
    assert at_home.month(horn.player, SUNDAY - dt.timedelta(days=1)).said == ()


def test_what_the_student_wrote_on_the_morning_of_the_last_lesson_is_on_the_agenda_of_the_next(horn, teacher):
    Comment.objects.create(horn=horn, by=horn.player.user, text="My reed is split.")
    with time_machine.travel(MORNING + dt.timedelta(days=2)):
        assert any("My reed is split." in point.text for point in agenda.page(horn, teacher).points)


def test_who_listened_on_one_day_of_the_studio_is_one_line_of_its_log(horn, teacher, studio):
    week = played.long_week(horn, teacher)
    (tried,) = played.day(week, SUNDAY, [(60, "mf")])
    for hours in (0, 8):  # the second by UTC on the day after
        with time_machine.travel(MORNING + dt.timedelta(hours=hours)):
            hearings.note(tried.take, teacher, 0)
    assert [entry.what for entry in logged.of_studio(studio) if "listened" in entry.what] == ["listened, 2 times"]


def test_spoken_words_are_kept_for_as_many_days_of_the_studio_as_takes(horn, teacher, studio, own_store):
    voice = Analysis.objects.create(audio="word", audio_bytes=1, sha256="", request={}, spoken=True, state="measured")
    Comment.objects.create(horn=horn, by=teacher, text="", voice=voice)
    with time_machine.travel(MORNING + dt.timedelta(days=studio.keep_takes_days)):
        assert keeping.tidy()["recordings"] == 0
    with time_machine.travel(MORNING + dt.timedelta(days=studio.keep_takes_days + 1)):
        assert keeping.tidy()["recordings"] == 1
