"""How much one student may send in a day: beyond it nothing is lost, it goes up tomorrow."""

from __future__ import annotations

import datetime as dt
import uuid

import pytest
import time_machine
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from assignments import takes, uploads
from assignments.models import Take, Week
from tests import builders, people
from tests.unit.test_uploads import send_part

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

SOUND = b"any bytes: nothing looks at them before the worker does"
EVENING = dt.datetime(2026, 3, 16, 22, 30, tzinfo=dt.UTC)  # in Lisbon too; a day there ends an hour and a half later
LEFT_S = 90 * 60


@pytest.fixture(autouse=True)
def evening():
    with time_machine.travel(EVENING, tick=False) as clock:
        yield clock


@pytest.fixture
def week(studio, teacher) -> Week:
    return builders.week(people.horn(studio), teacher)


@pytest.fixture
def phone(week) -> Client:
    return phone_of(week)


def phone_of(week) -> Client:
    client = Client()
    client.force_login(week.horn.player.user)
    return client


def send(phone: Client, week: Week, key: uuid.UUID | None = None):
    sound = SimpleUploadedFile("memo.m4a", SOUND, "audio/mp4")
    sent = {"client_key": key or uuid.uuid4(), "exercise": builders.daily(week).pk, "slots": "0", "audio": sound}
    return phone.post(reverse("api-takes"), sent)


def test_when_the_day_is_full_the_rest_is_refused_in_words_and_goes_up_tomorrow(phone, week, monkeypatch, evening):
    monkeypatch.setattr(takes, "MOST_A_DAY", 3)
    first, last = uuid.uuid4(), uuid.uuid4()
    assert [send(phone, week, key).status_code for key in (first, first, None, None)] == [201, 200, 201, 201]
    answer = send(phone, week, last)
    assert (answer.status_code, answer.json()["code"]) == (429, "full_day")
    assert "Nothing is lost" in answer.json()["text"]
    assert answer.headers["Retry-After"] == str(LEFT_S)
    assert send(phone, week, first).status_code == 200  # what is here already is answered as before
    assert Take.objects.count() == 3
    evening.shift(LEFT_S)
    assert send(phone, week, last).status_code == 201


def test_a_day_holds_two_hundred_takes_and_two_gigabytes():
    assert (takes.MOST_A_DAY, takes.MOST_BYTES_A_DAY) == (200, 2_000_000_000)


def test_bytes_are_counted_too(phone, week, monkeypatch):
    monkeypatch.setattr(takes, "MOST_BYTES_A_DAY", 2 * len(SOUND))
    assert [send(phone, week).status_code for _ in range(3)] == [201, 201, 429]


def test_a_part_counts_with_those_that_no_take_was_made_of(phone, week, monkeypatch):
    monkeypatch.setattr(takes, "MOST_BYTES_A_DAY", 2 * len(SOUND))
    keys = [uuid.uuid4() for _ in range(3)]
    answers = [send_part(phone, key, SOUND, 0, 2 * len(SOUND)) for key in keys]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert uploads.others_of(week.horn.player.user, keys[0]) == (1, 2 * len(SOUND))


def test_no_more_recordings_are_begun_in_parts_than_a_day_holds(phone, week, monkeypatch):
    monkeypatch.setattr(takes, "MOST_A_DAY", 2)
    keys = [uuid.uuid4() for _ in range(3)]
    answers = [send_part(phone, key, b"", 0, 100) for key in keys]
    assert [answer.status_code for answer in answers] == [200, 200, 429]
    assert send_part(phone, keys[0], SOUND, 0, 100).status_code == 200  # what is begun goes on


def test_a_part_that_follows_nothing_lays_no_file(phone, week, settings, tmp_path):
    settings.VAR = tmp_path
    answer = send_part(phone, uuid.uuid4(), SOUND, 5, 100)
    assert (answer.status_code, answer.json()["offset"]) == (409, 0)
    assert list((tmp_path / "parts").iterdir()) == []


def test_neither_another_student_nor_the_lesson_fills_it(phone, week, studio, teacher, monkeypatch):
    monkeypatch.setattr(takes, "MOST_A_DAY", 1)
    other = builders.week(people.horn(studio, "Ottilie Fenn"), teacher)
    assert send(phone_of(other), other).status_code == 201
    of_lesson = builders.take(week, SOUND)
    Take.objects.filter(pk=of_lesson.pk).update(in_lesson=True)
    assert [send(phone, week).status_code for _ in range(2)] == [201, 429]


def test_a_file_that_is_chosen_by_hand_is_refused_on_its_page(phone, week, monkeypatch):
    monkeypatch.setattr(takes, "MOST_A_DAY", 0)
    chosen = SimpleUploadedFile("memo.m4a", SOUND, "audio/mp4")
    sent = {"client_key": uuid.uuid4(), "slots": ["0"], "chosen": chosen}
    answer = phone.post(reverse("take_file", args=[builders.daily(week).pk]), sent)
    assert answer.status_code == 429
    assert "can go up tomorrow" in answer.content.decode()
