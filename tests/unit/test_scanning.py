"""A site that names a scanner keeps nothing that wasn't looked through; what it can't look at waits on the phone."""

from __future__ import annotations

import sys

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from assignments.models import Take
from tests import builders, people
from tests.unit.test_uploads import SOUND, form

pytestmark = pytest.mark.django_db

READS = "import sys; sound = sys.stdin.buffer.read(); sys.exit({})"
IS_WHOLE = f"0 if len(sound) == {len(SOUND)} else 3"


@pytest.fixture
def week():
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


@pytest.fixture
def phone(week) -> Client:
    client = Client()
    client.force_login(week.horn.player.user)
    return client


def scanner(program: str) -> list[str]:
    return [sys.executable, "-c", program]


def sent(phone, week):
    file = SimpleUploadedFile("memo.m4a", SOUND, "audio/mp4")
    return phone.post(reverse("api-takes"), form(week, audio=file))


def test_what_the_scanner_lets_through_is_kept_whole(phone, week, settings):
    settings.SCANNER = scanner(READS.format(IS_WHOLE))
    assert sent(phone, week).status_code == 201
    with default_storage.open(Take.objects.get().analysis.audio.name) as stored:
        assert stored.read() == SOUND


@pytest.mark.usefixtures("own_store")
def test_what_it_finds_fault_with_is_refused_in_words_and_nothing_is_kept(phone, week, settings):
    settings.SCANNER = scanner("import sys; sys.exit(1)")  # before it has read all of it
    answer = sent(phone, week)
    assert (answer.status_code, answer.json()["code"]) == (400, "not_clean")
    assert not Take.objects.exists()
    assert default_storage.listdir("") == ([], [])


@pytest.mark.parametrize("command", [scanner(READS.format(2)), ["/nowhere/scanner", "-"]])
def test_what_it_cannot_look_at_stays_on_the_phone_and_the_log_says_so(phone, week, settings, command, caplog):
    settings.SCANNER = command
    answer = sent(phone, week)
    assert (answer.status_code, answer.json()["code"], answer.headers["Retry-After"]) == (503, "not_scanned", "60")
    assert not Take.objects.exists()
    assert [one.message for one in caplog.records if one.levelname == "ERROR" and "scanner" in one.message]


def test_one_that_never_answers_is_ended(phone, week, settings, monkeypatch):
    monkeypatch.setattr("assignments.scanning.PATIENCE_S", 0.2)
    settings.SCANNER = scanner("import time; time.sleep(600)")
    file = SimpleUploadedFile("memo.m4a", SOUND * 30, "audio/mp4")  # more than a pipe holds
    assert phone.post(reverse("api-takes"), form(week, audio=file)).status_code == 503
