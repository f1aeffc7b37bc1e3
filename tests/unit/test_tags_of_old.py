"""Recordings that an earlier release kept as they came lose what their files say besides the sound, too."""

from __future__ import annotations

import errno
import hashlib
from pathlib import Path

import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis import discarding
from analysis.models import Analysis
from assignments import keeping, recordings
from assignments.models import Take
from tests import builders, people
from tests.unit.test_tags import MARK, tagged
from tests.unit.test_uploads import form

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def week(studio, teacher):
    return builders.week(people.horn(studio), teacher)


def of_old(week, content: bytes, state: str = Analysis.State.MEASURED) -> Take:
    """Received by a release that kept a recording as it came."""
    take = builders.take(week, b"another")
    default_storage.delete(take.analysis.audio.name)
    name, sha256 = default_storage.save("ol/d", ContentFile(content)), hashlib.sha256(content).hexdigest()
    changed = {"audio": name, "audio_bytes": len(content), "sha256": sha256, "sent_sha256": "", "state": state}
    Analysis.objects.filter(pk=take.analysis_id).update(**changed)
    return Take.objects.get(pk=take.pk)


def kept_of(take: Take) -> bytes:
    take.analysis.refresh_from_db()
    with default_storage.open(take.analysis.audio.name) as file:
        return file.read()


def marked_files() -> int:
    return sum(MARK in path.read_bytes() for path in Path(default_storage.location).rglob("*") if path.is_file())


@pytest.mark.parametrize("name", ["memo.oga", "memo.m4a", "memo.webm"])
def test_its_tags_go_once_and_whoever_sent_it_knows_it_again(tmp_path, week, name, django_capture_on_commit_callbacks):
    came = tagged(tmp_path, name)
    take = of_old(week, came)
    with django_capture_on_commit_callbacks(execute=True):
        assert keeping.tidy()["looked_for_tags"] == 1
    assert (marked_files(), len(kept_of(take))) == (0, len(came))
    assert take.analysis.sha256 == hashlib.sha256(kept_of(take)).hexdigest()
    phone = Client()
    phone.force_login(week.horn.player.user)
    again = form(week, take.client_key, audio=SimpleUploadedFile("memo", came, "audio/mp4"))
    answer = phone.post(reverse("api-takes"), again)
    assert (answer.status_code, answer.json()["sha256"]) == (200, hashlib.sha256(came).hexdigest())
    assert keeping.tidy()["looked_for_tags"] == 0


def test_one_without_tags_and_one_whose_file_is_gone_stay_as_they_are_and_are_looked_at_once(tmp_path, week):
    plain = of_old(week, b"sound alone")
    lost = of_old(week, tagged(tmp_path, "memo.oga"))
    default_storage.delete(lost.analysis.audio.name)
    before = {take.pk: take.analysis.audio.name for take in (plain, lost)}
    assert [keeping.tidy()["looked_for_tags"] for _ in range(2)] == [2, 0]
    assert {take.pk: take.analysis.audio.name for take in Take.objects.select_related("analysis")} == before
    assert kept_of(plain) == b"sound alone"


def test_one_that_waits_to_be_measured_is_left_alone_until_it_is_over(tmp_path, week):
    take = of_old(week, tagged(tmp_path, "memo.oga"), Analysis.State.QUEUED)
    assert keeping.tidy()["looked_for_tags"] == 0
    assert MARK in kept_of(take)


def test_one_that_is_deleted_meanwhile_stays_deleted(tmp_path, week, monkeypatch, django_capture_on_commit_callbacks):
    take = of_old(week, tagged(tmp_path, "memo.oga"))
    store = recordings.store

    def deleted_meanwhile(sound):
        discarding.discard(Analysis.objects.filter(pk=take.analysis_id))
        return store(sound)

    monkeypatch.setattr(recordings, "store", deleted_meanwhile)
    with django_capture_on_commit_callbacks(execute=True):
        keeping.tidy()
    take.analysis.refresh_from_db()
    assert take.analysis.audio.name == ""
    assert [path for path in Path(default_storage.location).rglob("*") if path.is_file()] == []


def test_where_there_is_no_room_for_another_copy_it_is_kept_until_there_is(tmp_path, week, monkeypatch):
    take = of_old(week, tagged(tmp_path, "memo.oga"))

    def full(*_given):
        raise OSError(errno.ENOSPC, "full")

    with monkeypatch.context() as meanwhile:
        meanwhile.setattr(default_storage, "save", full)
        assert keeping._take_out_tags() == 0
    assert MARK in kept_of(take)
    assert keeping.tidy()["looked_for_tags"] == 1
    assert MARK not in kept_of(take)
