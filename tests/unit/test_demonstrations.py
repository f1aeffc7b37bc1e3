"""How a tone should sound: a teacher plays it once, students of the studio hear it beside their own."""

from __future__ import annotations

import datetime as dt
import uuid
from html import unescape
from pathlib import Path

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from analysis.tasks import measure
from assignments import demonstrations, keeping, recordings, sweeper
from assignments.models import Demonstration
from assignments.queries import one_tone
from assignments.tasks import settle
from studio.models import Membership
from tests import builders, people, played
from tests.unit import sound_given

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def tone(tmp_path: Path) -> bytes:
    """A written G4 on an alto, two seconds."""
    file = tmp_path / "tone.flac"
    write(file, render([ToneSpec(written_midi=67, dynamic="mf", seconds=2.0)], "alto", seed=3)[0], "flac")
    return file.read_bytes()


@pytest.fixture
def tried(studio, teacher):
    """Pim's G4 of yesterday, on an alto."""
    horn = people.horn(studio)
    return played.day(played.long_week(horn, teacher), studio.today() - dt.timedelta(days=1), [(67, "mf")])[0]


def sent(client, audio: bytes, like=None, **more: str):
    body = {"key": str(uuid.uuid4()), "instrument": "alto", "written_midi": "67", "tone": "mf", **more}
    query = f"?like={like.pk}" if like else ""
    file = SimpleUploadedFile("tone.flac", audio)
    return client.post(reverse("new_demonstration") + query, {**body, "audio": file}, headers=by_fetch())


def by_fetch() -> dict[str, str]:
    return {"X-Requested-With": "fetch"}


def heard(row: Demonstration) -> Demonstration:
    measure(str(row.analysis_id))
    settle(str(row.analysis_id))
    row.refresh_from_db()
    return row


def audio_of(row: Demonstration, user) -> int:
    return sound_given.status(user, reverse("demonstration_audio", args=[row.pk]))


def test_a_tone_is_played_once_and_stands_beside_the_students_own_made_as_loud(signed_in, client, tone, tried):
    answer = sent(client, tone, like=tried)
    assert answer.json() == {"to": reverse("one_tone", args=[tried.pk])}
    row = Demonstration.objects.get()
    assert one_tone.page(tried).shown is None  # nobody has heard it yet
    assert audio_of(row, tried.horn.player.user) == 404
    heard(row)
    page = one_tone.page(tried)
    assert page.shown is not None
    assert page.shown.row == row
    level_db = page.sounding.tone.level_db
    assert row.level_db is not None
    assert page.shown.gain_db == pytest.approx(max(-12.0, min(12.0, level_db - row.level_db)), abs=0.06)
    assert 1.5 < page.shown.to_s - page.shown.from_s < 3.0
    assert audio_of(row, tried.horn.player.user) == 200
    pupil = Client()
    pupil.force_login(tried.horn.player.user)
    text = pupil.get(reverse("one_tone", args=[tried.pk])).content.decode()
    assert "Your teacher’s" in text
    assert reverse("demonstration_audio", args=[row.pk]) in text


def test_it_is_heard_on_the_same_instrument_note_and_tone_alone(studio, tried):
    for other in ({"tone": "p"}, {"written_midi": 69}, {"instrument": "tenor"}):
        builders.demonstration(studio, **other)
    builders.demonstration(people.studio("Far Quay"))
    assert one_tone.page(tried).shown is None
    builders.demonstration(studio)
    assert one_tone.page(tried).shown is not None


def test_a_new_one_replaces_the_old_once_it_was_heard(
    signed_in, client, studio, tone, django_capture_on_commit_callbacks
):
    old = builders.demonstration(studio)
    sent(client, tone)
    new = Demonstration.objects.exclude(pk=old.pk).get()
    assert demonstrations.heard(studio.pk, "alto", [(67, "mf")]) == {(67, "mf"): old}
    with django_capture_on_commit_callbacks(execute=True):
        heard(new)
    assert list(Demonstration.objects.all()) == [new]
    assert Analysis.objects.get().demonstration == new
    assert len(list(keeping._stored())) == 1


def test_what_could_not_be_heard_replaces_nothing_and_says_why(signed_in, client, studio, tone):
    old = builders.demonstration(studio)
    sent(client, b"this is a shopping list")
    new = heard(Demonstration.objects.exclude(pk=old.pk).get())
    assert (new.settled_at is not None, new.level_db) == (True, None)
    assert demonstrations.heard(studio.pk, "alto", [(67, "mf")]) == {(67, "mf"): old}
    text = client.get(reverse("demonstrations")).content.decode()
    assert new.analysis.fault_text in unescape(text)
    other = builders.demonstration(studio, written_midi=70)
    sent(client, tone, written_midi="70")  # a G is in it
    wrong = heard(Demonstration.objects.filter(written_midi=70).exclude(pk=other.pk).get())
    assert wrong.level_db is None
    assert "I couldn’t find that tone in it" in client.get(reverse("demonstrations")).content.decode()


def test_sent_twice_it_is_one(signed_in, client, tone):
    key = str(uuid.uuid4())
    for _ in range(2):
        assert sent(client, tone, key=key).status_code == 200
    assert Demonstration.objects.count() == Analysis.objects.count() == 1


def test_a_key_of_another_studio_is_refused_in_words(signed_in, client, tone):
    foreign = builders.demonstration(people.studio("Far Quay"))
    answer = sent(client, tone, key=str(foreign.pk))
    assert (answer.status_code, Demonstration.objects.count()) == (409, 1)
    assert "record it anew" in answer.json()["text"]


@pytest.mark.parametrize(
    ("more", "words"),
    [({"written_midi": "40"}, "not one of the available"), ({"written_midi": "57"}, "has no such note")],
)
def test_a_note_that_the_instrument_lacks_is_said(signed_in, client, tone, more, words):
    answer = sent(client, tone, **more)
    assert answer.status_code == 400
    assert words in answer.json()["text"]
    assert not Analysis.objects.exists()


def test_without_a_sound_the_page_says_what_is_missing(signed_in, client):
    answer = client.post(reverse("new_demonstration"), {"key": str(uuid.uuid4()), "instrument": "alto"})
    assert answer.status_code == 400
    assert "Record it first, or choose a file." in answer.content.decode()


def test_one_that_is_too_large_or_empty_keeps_nothing(signed_in, client, monkeypatch):
    assert sent(client, b"").status_code == 400
    monkeypatch.setattr(recordings, "SHORT_MOST_BYTES", 10)
    answer = sent(client, b"twelve bytes")
    assert (answer.status_code, answer.json()["text"]) == (413, "That file is over 20 MB. Record a minute at most.")
    assert not Demonstration.objects.exists()


def test_one_longer_than_a_minute_is_refused_by_the_worker_in_words(signed_in, client, tmp_path):
    file = tmp_path / "long.flac"
    write(file, render([ToneSpec(written_midi=67, dynamic="mf", seconds=62.0)], "alto", seed=3)[0], "flac")
    sent(client, file.read_bytes())
    row = heard(Demonstration.objects.get())
    assert row.analysis.state == "refused"
    assert "It is longer than a minute" in client.get(reverse("demonstrations")).content.decode()


def test_deleting_deletes_the_sound(signed_in, client, studio, django_capture_on_commit_callbacks):
    row = builders.demonstration(studio)
    with django_capture_on_commit_callbacks(execute=True):
        assert client.post(reverse("delete_demonstration", args=[row.pk])).status_code == 302
    assert not Demonstration.objects.exists()
    assert not Analysis.objects.exists()
    assert list(keeping._stored()) == []


def test_with_its_studio_it_goes_too(studio, django_capture_on_commit_callbacks):
    builders.demonstration(studio)
    Analysis.objects.update(created_at="2000-01-01T00:00:00Z")
    studio.delete()
    with django_capture_on_commit_callbacks(execute=True):
        assert keeping.tidy()["ownerless"] == 1
    assert not Analysis.objects.exists()
    assert list(keeping._stored()) == []


def test_it_stays_with_the_studio_when_its_teacher_has_left(studio, teacher, tried):
    row = builders.demonstration(studio)
    Demonstration.objects.update(by=teacher)
    Membership.objects.filter(user=teacher).update(ends_on=studio.today() - dt.timedelta(days=1))
    assert audio_of(row, teacher) == 404
    assert audio_of(row, tried.horn.player.user) == 200
    shown = one_tone.page(tried).shown
    assert shown is not None
    assert shown.row.by == teacher


def test_a_message_that_was_lost_is_made_good_by_the_sweeper(signed_in, client, studio, tone, monkeypatch):
    sent(client, tone)
    row = Demonstration.objects.get()
    measure(str(row.analysis_id))
    Analysis.objects.update(measured_at="2000-01-01T00:00:00Z")
    settled: list[Analysis] = []
    monkeypatch.setattr(sweeper, "send_settle", lambda one: settled.append(one) or True)
    assert sweeper.sweep().settling == 1
    assert settled == [row.analysis]


def test_the_moment_and_the_after_page_offer_it(signed_in, client, studio, teacher):
    horn = people.horn(studio)
    week = played.long_week(horn, teacher)
    played.day(week, studio.today() - dt.timedelta(days=1), [(67, "mf")], missed=[(67, "mf")])
    builders.demonstration(studio)
    text = client.get(reverse("student", args=[horn.pk])).content.decode()
    assert "As you show it" in text
    assert "Show it anew" in text
