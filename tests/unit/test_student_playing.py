"""Set up and play: what the page offers, what its script is told, and what may not be recorded."""

from __future__ import annotations

import datetime as dt
import json
import re
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from assignments import plans
from assignments.models import DayPlan, Take
from studio.models import Consent
from tests import builders, people, played
from tests.unit.student_cast import *  # noqa: F403  # the cast
from tests.unit.student_cast import TONES, plan, shown

pytestmark = pytest.mark.django_db


def work(text: str) -> dict[str, object]:
    """What the page tells its script."""
    found = re.search(r'<script id="work" type="application/json">(.*?)</script>', text)
    assert found
    return json.loads(found[1])


def test_the_script_is_told_every_tone_and_nothing_of_other_people(client, horn, week):
    opened = plan(week)
    told = work(shown(client, "play"))
    assert [tone["slot"] for tone in told["tones"]] == [0, 1, 2]
    assert told["tones"][1] == {"slot": 1, "title": "C♯5 pp", "beats": 8, "sounding_midi": 64}
    assert told["plan"] == str(opened.pk)
    assert told["profile"] == str(horn.player.user_id)
    assert "Pim" not in json.dumps(told)


def test_what_was_recorded_is_not_asked_again(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES[:2])
    text = shown(client, "play")
    assert work(text)["done"] == [0, 1]
    assert "<h1>One tone to go</h1>" in text


def test_named_tones_can_be_played_again(client, horn, week):
    plan(week)
    played.day(week, horn.studio.today(), TONES)
    told = work(shown(client, "play", slots="1,x"))
    assert [tone["slot"] for tone in told["tones"]] == [1]
    assert told["done"] == []


def test_the_last_check_can_stand_for_the_same_place(client, horn, week):
    opened = plan(week)
    DayPlan.objects.create(
        horn=horn,
        week=week,
        on=opened.on - dt.timedelta(days=2),
        tones=[],
        sound_check={"softest_db": -40.0, "loudest_db": -15.0},
    )
    text = shown(client, "set_up")
    assert "Same place as last time" in text
    assert work(text)["last_check"]["loudest_db"] == -15.0


def test_a_tone_is_shown_in_written_pitch_and_sounding_on_a_tap(client, horn, week):
    plan(week, ((73, "pp"),))
    text = shown(client, "play")
    assert "middle C sharp" in text
    assert 'aria-label="On the stave, written: C sharp 5."' in text
    assert "E 4" in text  # what an alto sounds


def test_a_shape_is_followed_and_a_level_is_kept(client, horn, week):
    plan(week, ((67, "mf"), (67, "swell")))
    kept, followed = shown(client, "play").split('<article class="tone"')[1:]
    assert ("Keep it there." in kept, "Follow the line." in kept) == (True, False)
    assert ("Keep it there." in followed, "Follow the line." in followed) == (False, True)


def test_after_a_stop_for_pain_there_is_nothing_to_play(client, horn, week):
    plans.stop_because_it_hurts(plan(week), teacher_may_know=False)
    assert client.get(reverse("play")).status_code == 302


def test_without_permission_the_microphone_stays_closed(client, horn, week):
    plan(week)
    Consent.objects.all().delete()
    text = shown(client, "play", status=403)
    assert "Ask at home first" in text
    assert "data-do" not in text


def test_shut_work_says_why_and_cannot_be_played(client, horn, week):
    shut = week.exercises.create(position=9, kind="overtones_third", stage=1)
    assert "still shut" in shown(client, "exercise", shut.pk, status=403)
    assert "data-do" not in shown(client, "exercise", shut.pk, status=403, play="1")


def test_the_run_is_one_recording(client, horn, week):
    run = week.exercises.get(kind="evenness_run")
    assert "65 tones, one a breath" in shown(client, "exercise", run.pk)
    told = work(shown(client, "exercise", run.pk, play="1"))
    assert told["whole"] is True
    assert len(told["tones"]) == 65


def test_another_students_exercise_isnt_there(client, studio, horn, week, teacher):
    other = builders.week(people.horn(studio, "Ola Tidewell"), teacher.user)
    shown(client, "exercise", other.exercises.first().pk, status=404)
    shown(client, "take_file", other.exercises.first().pk, status=404)


def send(client, week, **fields: object):
    sent = {
        "client_key": str(uuid.uuid4()),
        "slots": ["0", "2"],
        "chosen": SimpleUploadedFile("a.wav", b"RIFF some sound"),
    }
    daily = week.exercises.get(kind="daily_tones")
    return client.post(reverse("take_file", args=[daily.pk]), {**sent, **fields})


def test_a_file_is_one_take_of_the_tones_that_were_ticked(client, horn, week):
    plan(week)
    answer = send(client, week)
    take = Take.objects.get()
    assert answer.url == reverse("take", args=[take.pk])
    assert [slot["slot"] for slot in take.asked] == [0, 2]
    text = shown(client, "take", take.pk)
    assert "Your recording is safe" in text
    assert '<meta http-equiv="refresh"' in text


def test_the_form_sent_twice_makes_one_take(client, horn, week):
    plan(week)
    key = str(uuid.uuid4())
    assert send(client, week, client_key=key).url == send(client, week, client_key=key).url
    assert Take.objects.count() == 1


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"chosen": ""}, "Choose one recording, then send it."),
        ({"slots": []}, "Tick the tones that are in the recording."),
        ({"chosen": SimpleUploadedFile("a.wav", b"")}, "The submitted file is empty."),
    ],
)
def test_what_is_missing_is_said(client, horn, week, change, words):
    plan(week)
    answer = send(client, week, **change)
    assert answer.status_code == 400
    assert words in answer.content.decode()
    assert not Take.objects.exists()


def test_a_refused_recording_says_what_to_do(client, horn, week):
    plan(week)
    Consent.objects.all().delete()
    answer = send(client, week)
    assert answer.status_code == 403
    assert "Ask at home first." in answer.content.decode()


def test_what_is_shared_without_the_service_worker_is_asked_for_once_more_and_the_way_back_leads_to_today(client):
    there = reverse("shared_files")
    assert client.post(there).headers["Location"] == reverse("day_files") + "?again"
    assert client.get(there).headers["Location"] == reverse("today")
