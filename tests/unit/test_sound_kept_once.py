"""What a teacher records: kept once under its key, told apart by its sound, and stored while nobody waits for it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Callable

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.db.models import Model
from django.urls import reverse

from analysis.models import Analysis
from assignments import keeping, recordings
from assignments.models import Comment, Demonstration, Take
from studio.models import LogRow
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store", "signed_in")]
G4 = {"written_midi": "67", "tone": "mf"}


@pytest.fixture
def tried(studio, teacher):
    week = played.long_week(people.horn(studio), teacher)
    return played.day(week, studio.today() - dt.timedelta(days=1), [(67, "mf")])[0]


@pytest.fixture(params=[Demonstration, Comment, Take], ids=["a tone shown", "a word said", "a tone of the lesson"])
def kind(request) -> type[Model]:
    return request.param


@pytest.fixture
def send(client, tried, kind) -> Callable:
    """Sends a sound under a key, as the page's script does."""
    address, fields = {
        Demonstration: (reverse("new_demonstration"), {"instrument": "alto", **G4}),
        Comment: (reverse("comment", args=[tried.take_id]), {"about_try": str(tried.pk), "at_s": "2.5", "text": ""}),
        Take: (reverse("lesson_take", args=[tried.horn_id]), {"words": "The air first", **G4}),
    }[kind]

    def post(key: str, audio: bytes = b"any bytes"):
        body = {**fields, "key": key, "audio": SimpleUploadedFile("tone.flac", audio)}
        return client.post(address, body, headers={"X-Requested-With": "fetch"})

    return post


def counted(kind: type[Model]) -> tuple[int, int, int]:
    """Rows of that kind, recordings, files."""
    return kind._default_manager.count(), Analysis.objects.count(), len(list(keeping._stored()))


def test_another_sound_under_the_same_key_is_never_taken_for_the_first(send, kind):
    key = str(uuid.uuid4())
    assert send(key).status_code == 200
    before = counted(kind)
    answer = send(key, b"a better one")
    assert answer.status_code in (400, 409)
    assert "record it anew" in answer.json()["text"]
    assert counted(kind) == before
    assert send(str(uuid.uuid4()), b"a better one").status_code == 200
    assert counted(kind) == tuple(n + 1 for n in before)


def test_of_two_sendings_at_once_one_is_kept(send, kind, monkeypatch):
    key, store = str(uuid.uuid4()), recordings.store
    before, noted = counted(kind), LogRow.objects.count()

    def while_another_comes_in(audio):
        monkeypatch.setattr(recordings, "store", store)
        assert send(key).status_code == 200
        return store(audio)

    monkeypatch.setattr(recordings, "store", while_another_comes_in)
    assert send(key).status_code == 200
    assert counted(kind) == tuple(n + 1 for n in before)
    assert LogRow.objects.filter(what="recorded").count() == (kind is Take)
    assert LogRow.objects.count() == noted + (kind is Take)


@pytest.mark.django_db(transaction=True)
def test_it_is_hashed_and_stored_before_the_database_is_held(send, kind, monkeypatch):
    sha256_of, store = recordings.sha256_of, recordings.store
    held: list[bool] = []

    def noticing(doing):
        def done(*args, **named):
            held.append(connection.in_atomic_block)
            return doing(*args, **named)

        return done

    monkeypatch.setattr(recordings, "sha256_of", noticing(sha256_of))
    monkeypatch.setattr(recordings, "store", noticing(store))
    assert send(str(uuid.uuid4())).status_code == 200
    assert held == [False, False]


def test_a_minute_is_the_most(send, kind, monkeypatch):
    before = set(Analysis.objects.values_list("pk", flat=True))
    send(str(uuid.uuid4()))
    assert Analysis.objects.exclude(pk__in=before).get().longest_s == recordings.SHORT_S
    monkeypatch.setattr(recordings, "SHORT_MOST_BYTES", 10)
    now = counted(kind)
    answer = send(str(uuid.uuid4()), b"twelve bytes")
    assert answer.json()["text"] == "That file is over 20 MB. Record a minute at most."
    assert counted(kind) == now
