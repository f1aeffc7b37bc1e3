"""A take of the lesson: recorded by the teacher, measured like any, kept with its note, counting for no day."""

from __future__ import annotations

import uuid
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from analysis.tasks import measure
from assignments import gate_rules, permission, portions, standings
from assignments.models import Comment, PlayedDay, Take, Try
from assignments.queries import after, one_tone
from assignments.tasks import settle
from studio import consent
from studio.models import LogRow, Membership
from tests import builders, people, played
from tests.unit import sound_given

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store")]
WORDS = "The air first, then the tongue"


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def week(horn, teacher):
    return played.long_week(horn, teacher)


@pytest.fixture
def tone(tmp_path: Path) -> bytes:
    file = tmp_path / "tone.flac"
    write(file, render([ToneSpec(written_midi=67, dynamic="mf", seconds=5.0)], "alto", seed=3)[0], "flac")
    return file.read_bytes()


def record(client, horn, audio: bytes = b"any bytes", **more: str):
    body = {"key": str(uuid.uuid4()), "written_midi": "67", "tone": "mf", "words": WORDS, **more}
    return client.post(
        reverse("lesson_take", args=[horn.pk]),
        {**body, "audio": SimpleUploadedFile("tone.flac", audio)},
        headers={"X-Requested-With": "fetch"},
    )


def test_it_is_measured_and_judged_and_counts_for_nothing(signed_in, client, horn, week, tone):
    assert record(client, horn, tone).status_code == 200
    take = Take.objects.get()
    measure(str(take.analysis_id))
    settle(str(take.analysis_id))
    tried = Try.objects.get()
    assert (tried.outcome, tried.counts, tried.checks != []) == ("hit", False, True)
    assert not PlayedDay.objects.exists()
    assert standings.standing(horn).days == ()
    assert after.page(horn, horn.studio.today()).recorded == 0


def test_it_moves_no_rules_first_day_and_warms_nobody_up(signed_in, client, horn, week, studio):
    record(client, horn)
    today = studio.today()
    assert gate_rules.first_day(studio, horn) == gate_rules.first_day(studio) == today
    high = week.exercises.create(position=9, kind="overtones_third", stage=1)
    assert portions.low_notes_first(horn, high, today)
    builders.take(week, b"any bytes")
    assert not portions.low_notes_first(horn, high, today)


def test_student_teacher_and_family_hear_it_with_the_note(signed_in, client, horn, week, teacher, studio):
    record(client, horn)
    take, note = Take.objects.get(), Comment.objects.get()
    assert (note.take, note.text, note.by, note.about_try) == (take, WORDS, teacher, None)
    guardian = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    address = reverse("take_audio", args=[take.pk])
    for user, page in (
        (teacher, reverse("student", args=[horn.pk])),
        (horn.player.user, reverse("lesson")),
        (guardian.user, reverse("home_messages", args=[horn.player_id])),
    ):
        reader = Client()
        reader.force_login(user)
        text = reader.get(page).content.decode()
        assert WORDS in text
        assert address in text
        assert "From the lesson" in text
        assert sound_given.status(user, address) == 200


def test_the_log_says_who_recorded_whom(signed_in, client, horn, week, teacher):
    record(client, horn)
    row = LogRow.objects.get(what="recorded")
    assert (row.who_id, row.about_id) == (teacher.pk, horn.player_id)


def test_a_tone_practised_later_stands_beside_the_one_of_the_lesson(signed_in, client, horn, week, tone):
    record(client, horn, tone)
    take = Take.objects.get()
    measure(str(take.analysis_id))
    settle(str(take.analysis_id))
    (practised,) = played.day(week, horn.studio.today(), [(67, "mf")])
    page = one_tone.page(practised)
    assert page.in_lesson is not None
    assert page.in_lesson.sounding.row == Try.objects.get(take=take)
    Analysis.objects.filter(take=take).update(audio="")
    assert one_tone.page(practised).in_lesson is None


def test_without_permission_nothing_is_recorded_and_the_page_says_why(signed_in, client, horn, week):
    consent.withdraw(student=horn.player, by=horn.player.user)
    answer = record(client, horn)
    assert (answer.status_code, Take.objects.count(), Comment.objects.count()) == (403, 0, 0)
    assert "Ask at home first" in answer.json()["text"]
    text = client.get(reverse("lesson_take", args=[horn.pk])).content.decode()
    assert "Ask at home first" in text
    assert "data-recorder" not in text


def test_before_the_first_week_the_page_leads_to_setting_one(signed_in, client, horn):
    text = client.get(reverse("lesson_take", args=[horn.pk])).content.decode()
    assert "Set the first week first" in text
    assert reverse("week", args=[horn.pk]) in text
    assert record(client, horn).status_code == 409
    assert not Take.objects.exists()


def test_sent_twice_it_is_one_take_and_one_note(signed_in, client, horn, week):
    key = str(uuid.uuid4())
    for _ in range(2):
        assert record(client, horn, key=key).status_code == 200
    assert (Take.objects.count(), Comment.objects.count(), LogRow.objects.filter(what="recorded").count()) == (1, 1, 1)


def test_a_note_outside_the_horns_range_is_refused(signed_in, client, horn, week):
    assert record(client, horn, written_midi="95").status_code == 400
    assert not Take.objects.exists()


def test_taking_permission_back_deletes_it(signed_in, client, horn, week, django_capture_on_commit_callbacks):
    record(client, horn)
    with django_capture_on_commit_callbacks(execute=True):
        assert permission.take_back(student=horn.player, by=horn.player.user) == 1
    assert client.get(reverse("take_audio", args=[Take.objects.get().pk])).status_code == 404
    assert "deleted when its time was over" in client.get(reverse("student", args=[horn.pk])).content.decode()
