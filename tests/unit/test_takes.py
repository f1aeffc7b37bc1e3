"""Receiving a recording."""

from __future__ import annotations

import datetime as dt
import errno
import uuid
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from pytest_django import DjangoCaptureOnCommitCallbacks

from analysis.models import Analysis
from assignments import plans, recordings, takes
from assignments.exercises import Slot
from assignments.models import Take
from assignments.refusals import Refusal
from studio import consent
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

SOUND = b"RIFF stands for any bytes: nothing looks at them before the worker does"
G4_MF = (Slot(0, 67, "mf"),)


@pytest.fixture
def week():
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


def refused(call, *args, **kwargs) -> Refusal:
    with pytest.raises(Refusal) as refusal:
        call(*args, **kwargs)
    return refusal.value


def files() -> list[Path]:
    return [path for path in Path(default_storage.location).rglob("*") if path.is_file()]


def test_a_recording_is_kept_with_what_was_asked_for_in_it(week):
    take = builders.take(week, SOUND, [Slot(0, 67, "pp"), Slot(3, 70, "swell")])
    assert take.analysis.state == Analysis.State.QUEUED
    with take.analysis.audio.open() as stored:
        assert stored.read() == SOUND
    assert [(row["written_midi"], row["tone"]) for row in take.asked] == [(67, "pp"), (70, "swell")]
    assert take.analysis.request["asked"][0]["dynamic"] == "pp"
    assert take.analysis.request["asked"][1]["shape"] == "swell"
    assert take.analysis.request["instrument"] == "alto"


def test_sending_twice_makes_one_take_and_one_file(week):
    key = uuid.uuid4()
    sound = SOUND + key.bytes  # like no other recording
    first = builders.take(week, sound, client_key=key)
    second = builders.take(week, sound, client_key=key)
    assert first == second
    assert Take.objects.count() == Analysis.objects.count() == 1
    assert [file.read_bytes() for file in files()].count(sound) == 1


def test_other_bytes_under_the_same_key_are_refused(week):
    key = uuid.uuid4()
    builders.take(week, SOUND, client_key=key)
    assert refused(builders.take, week, b"other" + SOUND, client_key=key).status == 409


def test_nothing_is_recorded_without_permission_from_home(week):
    consent.withdraw(student=week.horn.player, by=week.set_by)
    refusal = refused(builders.take, week, SOUND)
    assert (refusal.code, refusal.status) == ("no_consent", 403)
    assert not Take.objects.exists()


def test_a_take_sent_again_after_permission_was_withdrawn_still_counts_as_received(week):
    key = uuid.uuid4()
    take = builders.take(week, SOUND, client_key=key)
    consent.withdraw(student=week.horn.player, by=week.set_by)
    assert builders.take(week, SOUND, client_key=key) == take


def test_an_empty_file_is_refused_in_words(week):
    assert "Record it again" in refused(builders.take, week, b"").text


def test_a_file_over_the_limit_is_refused_in_words(week, monkeypatch):
    monkeypatch.setattr(recordings, "MOST_BYTES", 10)
    assert refused(builders.take, week, SOUND).status == 413


def test_work_behind_a_shut_gate_is_refused(week):
    horn = week.horn
    overtones = week.exercises.create(position=9, kind="overtones_third", stage=1)
    refusal = refused(
        takes.submit,
        horn=horn,
        exercise=overtones,
        on=horn.studio.today(),
        slots=[Slot(0, 58, "mf", 2)],
        client_key=uuid.uuid4(),
        audio=ContentFile(SOUND, name="take"),
        recorder={},
    )
    assert (refusal.code, refusal.status) == ("exercise_shut", 403)


def test_a_take_that_waited_on_the_phone_keeps_its_own_day(week):
    on = week.horn.studio.today() - dt.timedelta(days=3)
    early = builders.week(week.horn, week.set_by, on=on)
    plans.plan_for(week.horn, on)
    assert builders.take(early, SOUND, on=on).on == on


def test_a_take_for_a_week_that_was_followed_by_another_is_refused(week):
    today = week.horn.studio.today()
    old = builders.week(week.horn, week.set_by, on=today - dt.timedelta(days=7))
    refusal = refused(builders.take, old, SOUND, on=today)
    assert (refusal.code, refusal.status) == ("week_over", 409)
    assert "Open Today" in refusal.text


def test_last_weeks_tones_stay_playable_until_a_new_week_is_set():
    studio = people.studio()
    horn = people.horn(studio)
    old = builders.week(horn, people.teacher(studio).user, on=studio.today() - dt.timedelta(days=9))
    assert builders.take(old, SOUND).on == studio.today()


def test_a_day_that_has_not_come_is_refused(week):
    tomorrow = week.horn.studio.today() + dt.timedelta(days=1)
    assert refused(builders.take, week, SOUND, on=tomorrow).code == "not_yet_the_day"


def test_a_full_disk_is_told_and_leaves_nothing(week, monkeypatch):
    def full(*args: object) -> str:
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(default_storage, "save", full)
    refusal = refused(builders.take, week, SOUND)
    assert refusal.status == 507
    assert "Keep the recording on the phone" in refusal.text
    assert not Take.objects.exists()


def test_the_worker_is_nudged_only_after_the_rows_are_there(
    week, monkeypatch, django_capture_on_commit_callbacks: DjangoCaptureOnCommitCallbacks
):
    sent: list[Analysis] = []
    monkeypatch.setattr(recordings, "send", sent.append)
    with django_capture_on_commit_callbacks(execute=True):
        take = builders.take(week, SOUND)
        assert sent == []
    assert sent == [take.analysis]
