"""Fifty sendings at the same moment: under one key they are one take, and no day holds more than it may."""

from __future__ import annotations

import threading
import uuid
from collections import Counter
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connections
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from assignments import takes, uploads
from assignments.models import Take
from tests import builders, people

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

AT_ONCE = 50
FITS = 20  # into the day of these tests
SOUND = b"any bytes: nothing looks at them before the worker does"


@pytest.fixture
def week(empty_queue, settings, tmp_path: Path):
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    where = people.studio()
    return builders.week(people.horn(where), people.teacher(where).user)


def send_at_once(week, keys: Sequence[uuid.UUID], *, in_parts: bool = False) -> list[tuple[int, dict[str, str]]]:
    """Status and answer of each sending; all begin when the last is ready to. ``in_parts``: which are here already."""
    phone = Client()
    phone.force_login(week.horn.player.user)
    exercise, cookies, start = builders.daily(week).pk, phone.cookies, threading.Barrier(len(keys))

    def send(key: uuid.UUID) -> tuple[int, dict[str, str]]:
        line = Client()
        line.cookies = cookies
        sound = SimpleUploadedFile("memo.m4a", SOUND, "audio/mp4")
        start.wait()
        try:
            sent = {"client_key": key, "exercise": exercise, "slots": "0"}
            sent |= {"parts": "true"} if in_parts else {"audio": sound}
            answer = line.post(reverse("api-takes"), sent)
            return answer.status_code, answer.json()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(len(keys)) as pool:
        return list(pool.map(send, keys))


def stored_files() -> int:
    return sum(path.is_file() for path in Path(default_storage.location).rglob("*"))


def test_fifty_sendings_under_one_key_are_one_take_one_file_and_fifty_like_answers(week) -> None:
    answers = send_at_once(week, [uuid.uuid4()] * AT_ONCE)
    assert Counter(status for status, _ in answers) == {201: 1, 200: AT_ONCE - 1}
    assert {answer["id"] for _, answer in answers} == {str(Take.objects.get().pk)}
    assert (Analysis.objects.count(), stored_files()) == (1, 1)


def test_parts_that_are_called_a_take_fifty_times_at_once_are_one_take_and_fifty_like_answers(week) -> None:
    key = uuid.uuid4()
    uploads.append(week.horn.player.user, key, SOUND, 0, len(SOUND))
    answers = send_at_once(week, [key] * AT_ONCE, in_parts=True)
    assert Counter(status for status, _ in answers) == {201: 1, 200: AT_ONCE - 1}
    assert {answer["id"] for _, answer in answers} == {str(Take.objects.get().pk)}
    assert (Analysis.objects.count(), stored_files()) == (1, 1)
    assert uploads.offset(week.horn.player.user, key) == 0


@pytest.mark.parametrize(
    ("bound", "most"), [("MOST_A_DAY", FITS), ("MOST_BYTES_A_DAY", FITS * len(SOUND))], ids=["takes", "bytes"]
)
def test_of_fifty_takes_at_once_as_many_come_in_as_the_day_has_room_for(week, monkeypatch, bound, most) -> None:
    monkeypatch.setattr(takes, bound, most)
    answers = send_at_once(week, [uuid.uuid4() for _ in range(AT_ONCE)])
    assert Counter(status for status, _ in answers) == {201: FITS, 429: AT_ONCE - FITS}
    assert {answer["code"] for status, answer in answers if status == 429} == {"full_day"}
    assert Take.objects.count() == Analysis.objects.count() == stored_files() == FITS


def test_the_take_that_fills_the_day_is_received_for_each_of_its_sendings(week, monkeypatch) -> None:
    monkeypatch.setattr(takes, "MOST_A_DAY", 1)
    answers = send_at_once(week, [uuid.uuid4()] * AT_ONCE)
    assert Counter(status for status, _ in answers) == {201: 1, 200: AT_ONCE - 1}
