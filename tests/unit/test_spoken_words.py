"""A word said aloud, pinned to a second: read through before anybody hears it, deleted with everything else."""

from __future__ import annotations

import datetime as dt
import json
import re
import uuid
from html import unescape

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis, Result
from analysis.tasks import measure
from assignments import keeping, permission
from assignments.models import Comment, PrivateNote
from studio.models import Horn, Membership
from tests import people, played, sine
from tests.unit import sound_given

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store")]
DAY = dt.timedelta(days=1)


def sound(seconds: float = 1.0, rate_hz: int = 8_000) -> bytes:
    return sine.sound(seconds, rate_hz)


@pytest.fixture
def tried(studio, teacher):
    horn = people.horn(studio)
    week = played.long_week(horn, teacher)
    return played.day(week, studio.today() - DAY, [(67, "mf")], missed=[(67, "mf")])[0]


def say(client, tried, audio: bytes | None = None, **more: str):
    body = {"key": str(uuid.uuid4()), "about_try": str(tried.pk), "at_s": "2.5", "text": "", **more}
    file = SimpleUploadedFile("word.wav", sound() if audio is None else audio)
    address = reverse("comment", args=[tried.take_id])
    return client.post(address, {**body, "audio": file}, headers={"X-Requested-With": "fetch"})


def reader(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def test_it_is_heard_at_its_second_between_what_was_played_before_and_after(signed_in, client, tried):
    assert say(client, tried).json() == {"to": reverse("student", args=[tried.horn_id])}
    word = Comment.objects.get()
    voice, take = reverse("voice_audio", args=[word.pk]), reverse("take_audio", args=[tried.take_id])
    pupil = reader(tried.horn.player.user)
    tone = reverse("one_tone", args=[tried.pk])
    assert "It is being read through" in pupil.get(tone).content.decode()
    assert sound_given.status(tried.horn.player.user, voice) == 404
    measure(str(word.voice_id))
    assert sound_given.status(tried.horn.player.user, voice) == 200
    for page in (tone, reverse("lesson")):
        listed = [json.loads(unescape(one)) for one in re.findall(r'data-hear-list="([^"]*)"', text_of(pupil, page))]
        assert [[take, 0.5, 2.5], [voice, 0.0, 3600.0], [take, 2.5, 5.5]] in listed


def text_of(client: Client, address: str) -> str:
    return client.get(address).content.decode()


def test_nothing_is_measured_in_a_voice(signed_in, client, tried):
    before = Result.objects.count()
    say(client, tried)
    measure(str(Comment.objects.get().voice_id))
    assert Comment.objects.get().voice.state == Analysis.State.MEASURED
    assert Result.objects.count() == before


@pytest.mark.parametrize(
    ("audio", "words"),
    [(b"this is a shopping list", "sound"), (sound(61.5), "It is longer than a minute")],
    ids=["no sound", "too long"],
)
def test_what_is_no_sound_or_too_long_is_never_given_out_and_says_why(signed_in, client, tried, audio, words):
    say(client, tried, audio)
    word = Comment.objects.get()
    measure(str(word.voice_id))
    assert Comment.objects.get().voice.state == Analysis.State.REFUSED
    assert client.get(reverse("voice_audio", args=[word.pk])).status_code == 404
    assert words in text_of(client, reverse("one_tone", args=[tried.pk]))


def test_words_may_stand_beside_the_voice(signed_in, client, tried):
    say(client, tried, text="Listen to the end of it")
    assert (Comment.objects.get().text, Comment.objects.get().at_s) == ("Listen to the end of it", 2.5)


def test_sent_twice_it_is_said_once_and_a_strangers_key_is_refused(signed_in, client, tried, studio):
    key = str(uuid.uuid4())
    for _ in range(2):
        assert say(client, tried, key=key).status_code == 200
    assert Comment.objects.count() == 1
    other = reader(people.person("Teo Wrenfield", studio, Membership.Role.ASSISTANT).user)
    assert say(other, tried, key=key).status_code == 400
    assert Comment.objects.count() == 1


def test_neither_word_nor_sound_and_a_private_voice_are_refused_in_words(signed_in, client, tried):
    address = reverse("comment", args=[tried.take_id])
    answer = client.post(address, {"about_try": str(tried.pk), "text": ""})
    assert (answer.status_code, "Write a word, or say one." in answer.content.decode()) == (400, True)
    answer = client.post(address, {"about_try": str(tried.pk), "text": "", "back": "tone"})
    assert (answer.status_code, "Write a word, or say one." in answer.content.decode()) == (400, True)
    answer = say(client, tried, private="on")
    assert (answer.status_code, answer.json()["text"]) == (
        400,
        "A private note is written. Take the sound out, or the tick.",
    )
    assert not Comment.objects.exists()


def test_only_who_said_it_or_decides_takes_it_back_and_the_sound_goes(
    signed_in, client, tried, studio, django_capture_on_commit_callbacks
):
    files = len(list(keeping._stored()))
    say(client, tried)
    address = reverse("take_word_back", args=[Comment.objects.get().pk])
    assistant = reader(people.person("Teo Wrenfield", studio, Membership.Role.ASSISTANT).user)
    assert assistant.post(address).status_code == 404
    assert reader(tried.horn.player.user).post(address).status_code == 404
    with django_capture_on_commit_callbacks(execute=True):
        assert client.post(address).status_code == 302
    assert not Comment.objects.exists()
    assert not Analysis.objects.filter(spoken=True).exists()
    assert len(list(keeping._stored())) == files


def test_it_is_taken_back_once_its_horn_is_put_away(signed_in, client, tried, studio):
    say(client, tried)
    Horn.objects.filter(pk=tried.horn_id).update(put_away_on=studio.today())
    address = reverse("take_word_back", args=[Comment.objects.get().pk])
    tone = reverse("one_tone", args=[tried.pk])
    assert address in text_of(client, tone)
    assert (
        reader(people.person("Teo Wrenfield", studio, Membership.Role.ASSISTANT).user).post(address).status_code == 404
    )
    assert client.post(address).url == tone
    assert address not in text_of(client, tone)
    assert not Comment.objects.exists()


def test_who_decides_can_take_back_anybodys_word_from_a_horn_put_away(signed_in, client, tried, studio):
    colleague = people.person("Teo Wrenfield", studio, Membership.Role.ASSISTANT)
    assert say(reader(colleague.user), tried).status_code == 200
    Horn.objects.filter(pk=tried.horn_id).update(put_away_on=studio.today())
    page = text_of(client, reverse("one_tone", args=[tried.pk]))
    assert reverse("take_word_back", args=[Comment.objects.get().pk]) in page
    assert reverse("agree", args=[tried.pk]) not in page  # that would lead nowhere


def test_others_hear_nothing_of_it(signed_in, client, tried, studio):
    say(client, tried)
    word = Comment.objects.get()
    measure(str(word.voice_id))
    address = reverse("voice_audio", args=[word.pk])
    guardian = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(tried.horn.player)
    far = people.studio("Far Quay")
    assert sound_given.status(guardian.user, address) == 200
    for stranger in (
        people.horn(studio, "Ottilie Fenn").player.user,
        people.person("Edda Fenn", studio, Membership.Role.GUARDIAN).user,
        people.teacher(far, "Sela Brand").user,
    ):
        assert sound_given.status(stranger, address) == 404
    assert Client().get(address).status_code == 302


def test_it_goes_when_its_time_is_over_and_when_permission_is_taken_back(
    signed_in, client, tried, studio, django_capture_on_commit_callbacks
):
    say(client, tried)
    Comment.objects.update(made_at=dt.datetime.now(dt.UTC) - 62 * DAY)
    with django_capture_on_commit_callbacks(execute=True):
        assert keeping.tidy()["recordings"] == 1
    assert Comment.objects.get().voice.audio == ""
    say(client, tried)
    with django_capture_on_commit_callbacks(execute=True):
        permission.take_back(student=tried.horn.player, by=tried.horn.player.user)
    assert not Analysis.objects.exclude(audio="").exists()


def test_a_private_note_is_pinned_to_the_second_that_the_form_says(signed_in, client, tried, teacher):
    moments = text_of(client, reverse("student", args=[tried.horn_id]))
    assert 'name="at_s"' in moments
    assert moments.count('name="private"') == 2  # of the lesson note and of the moment
    sent = {"about_try": str(tried.pk), "text": "Left shoulder", "private": "on", "at_s": "4.2", "back": "tone"}
    answer = client.post(reverse("comment", args=[tried.take_id]), sent)
    assert answer.url == reverse("one_tone", args=[tried.pk])
    assert (PrivateNote.objects.get().at_s, PrivateNote.objects.get().about_try) == (4.2, tried)
    text = text_of(client, answer.url)
    assert "Left shoulder" in text
    assert "second 4.2" in text
    assert "Left shoulder" not in text_of(reader(tried.horn.player.user), answer.url)
