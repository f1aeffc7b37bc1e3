"""Large recordings in parts, and the API around them."""

from __future__ import annotations

import hashlib
import json
import uuid

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import DatabaseError, transaction
from django.test import Client
from django.urls import reverse

from assignments import uploads
from assignments.models import Take
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

SOUND = bytes(range(256)) * 40


@pytest.fixture
def week():
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


@pytest.fixture
def phone(week) -> Client:
    client = Client()
    client.force_login(week.horn.player.user)
    return client


def form(week, key: uuid.UUID | None = None, **fields: object) -> dict[str, object]:
    return {"client_key": key or uuid.uuid4(), "exercise": builders.daily(week).pk, "slots": "0", **fields}


def recording(content: bytes = SOUND) -> SimpleUploadedFile:
    return SimpleUploadedFile("memo.m4a", content, "audio/mp4")


def send_part(phone: Client, key: uuid.UUID, part: bytes, at: int, whole: int):
    return phone.patch(
        reverse("api-upload", args=[key]),
        part,
        "application/octet-stream",
        headers={"Upload-Offset": str(at), "Upload-Length": str(whole)},
    )


def test_a_sent_recording_is_answered_with_its_fingerprint_and_its_page(phone, week):
    answer = phone.post(reverse("api-takes"), form(week, audio=recording()))
    assert answer.status_code == 201, answer.content
    assert answer.json()["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert answer.json()["page"] == f"/takes/{Take.objects.get().pk}/"
    assert answer.json()["state"] == "received"


def test_the_same_recording_again_gives_the_first_answer_with_200(phone, week):
    key = uuid.uuid4()
    first = phone.post(reverse("api-takes"), form(week, key, audio=recording()))
    again = phone.post(reverse("api-takes"), form(week, key, audio=recording()))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"]


def test_a_recording_comes_in_parts_and_is_one_take(phone, week):
    key = uuid.uuid4()
    half = len(SOUND) // 2
    assert send_part(phone, key, SOUND[:half], 0, len(SOUND)).json()["offset"] == half
    where = phone.get(reverse("api-upload", args=[key])).json()
    assert where == {"stored": False, "take": None, "offset": half}
    assert send_part(phone, key, SOUND[half:], half, len(SOUND)).json()["offset"] == len(SOUND)
    answer = phone.post(reverse("api-takes"), form(week, key, parts="true"))
    assert answer.status_code == 201, answer.content
    assert answer.json()["sha256"] == hashlib.sha256(SOUND).hexdigest()
    assert phone.get(reverse("api-upload", args=[key])).json()["stored"]
    assert uploads.offset(week.horn.player.user, key) == 0


def test_the_same_parts_called_a_take_twice_give_the_first_answer_again(phone, week):
    """The first answer was lost on the way, and the parts became a take."""
    key = uuid.uuid4()
    send_part(phone, key, SOUND, 0, len(SOUND))
    first, again = (phone.post(reverse("api-takes"), form(week, key, parts="true")) for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 200)
    assert first.json()["id"] == again.json()["id"]
    never = phone.post(reverse("api-takes"), form(week, parts="true"))
    assert (never.status_code, never.json()["code"]) == (409, "no_parts")


def test_a_part_that_does_not_follow_is_told_where_to_go_on(phone, week):
    key = uuid.uuid4()
    send_part(phone, key, SOUND[:100], 0, len(SOUND))
    answer = send_part(phone, key, SOUND[300:400], 300, len(SOUND))
    assert answer.status_code == 409
    assert answer.json()["offset"] == 100


def test_parts_are_kept_when_the_take_is_refused(phone, week):
    key = uuid.uuid4()
    send_part(phone, key, SOUND, 0, len(SOUND))
    week.horn.player.consents.all().delete()
    assert phone.post(reverse("api-takes"), form(week, key, parts="true")).status_code == 403
    assert uploads.offset(week.horn.player.user, key) == len(SOUND)


def test_another_students_exercise_is_not_there(phone, week):
    other = builders.week(people.horn(week.horn.studio, "Ottilie Fenn"), week.set_by)
    answer = phone.post(reverse("api-takes"), form(other, audio=recording()))
    assert answer.status_code == 404
    assert not Take.objects.exists()


def test_another_students_parts_are_not_seen(phone, week):
    key = uuid.uuid4()
    send_part(phone, key, SOUND[:100], 0, len(SOUND))
    other = Client()
    other.force_login(people.horn(week.horn.studio, "Ottilie Fenn").player.user)
    assert other.get(reverse("api-upload", args=[key])).json()["offset"] == 0


@pytest.mark.parametrize(
    ("fields", "what"),
    [
        ({"audio": None}, "neither audio nor parts"),
        ({"slots": "0,x"}, "a slot that is no number"),
        ({"slots": "0,999"}, "a slot that isn't planned"),
        ({"slots": "1,1"}, "a slot twice"),
        ({"client_key": "mine"}, "a key that is no key"),
        ({"recorder": "{"}, "settings that are no JSON"),
        ({"recorder": json.dumps("x" * 5000)}, "settings beyond all measure"),
    ],
)
def test_a_form_that_makes_no_sense_is_answered_in_words(phone, week, fields, what):
    sent = {name: value for name, value in {**form(week, audio=recording()), **fields}.items() if value is not None}
    answer = phone.post(reverse("api-takes"), sent)
    assert answer.status_code == 400, what
    assert answer.json()["code"], what
    assert answer.json()["text"], what
    assert not Take.objects.exists()


def test_sending_wants_a_signed_in_student(week):
    assert Client().post(reverse("api-takes"), form(week, audio=recording())).status_code == 403


def test_sending_wants_the_pages_own_token(week):
    strict = Client(enforce_csrf_checks=True)
    strict.force_login(week.horn.player.user)
    assert strict.post(reverse("api-takes"), form(week, audio=recording())).status_code == 403


def test_a_take_can_be_heard_in_stretches_by_its_player(phone, week):
    phone.post(reverse("api-takes"), form(week, audio=recording()))
    address = reverse("take_audio", args=[Take.objects.get().pk])
    whole = phone.get(address)
    assert whole.status_code == 200
    assert b"".join(whole.streaming_content) == SOUND
    stretch = phone.get(address, headers={"Range": "bytes=100-199"})
    assert stretch.status_code == 206
    assert b"".join(stretch.streaming_content) == SOUND[100:200]
    assert stretch["Content-Range"] == f"bytes 100-199/{len(SOUND)}"
    last = phone.get(address, headers={"Range": "bytes=-10"})
    assert b"".join(last.streaming_content) == SOUND[-10:]
    beyond = phone.get(address, headers={"Range": f"bytes={len(SOUND)}-"})
    assert beyond.status_code == 416


def test_a_take_is_not_there_for_another_student(phone, week):
    phone.post(reverse("api-takes"), form(week, audio=recording()))
    stranger = Client()
    stranger.force_login(people.horn(week.horn.studio, "Ottilie Fenn").player.user)
    assert stranger.get(reverse("take_audio", args=[Take.objects.get().pk])).status_code == 404


def test_who_heard_a_take_is_written_down(phone, week):
    phone.post(reverse("api-takes"), form(week, audio=recording()))
    take = Take.objects.get()
    teacher = Client()
    teacher.force_login(week.set_by)
    b"".join(teacher.get(reverse("take_audio", args=[take.pk])).streaming_content)
    assert [hearing.by for hearing in take.hearings.all()] == [week.set_by]
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        take.hearings.update(by=week.horn.player.user)


def test_nobody_listens_unseen_by_leaving_out_the_first_byte(phone, week):
    phone.post(reverse("api-takes"), form(week, audio=recording()))
    take = Take.objects.get()
    teacher = Client()
    teacher.force_login(week.set_by)
    address = reverse("take_audio", args=[take.pk])
    assert teacher.head(address).headers["Content-Length"] == str(len(SOUND))
    assert not take.hearings.exists()
    for start in (1, 500):
        b"".join(teacher.get(address, headers={"Range": f"bytes={start}-"}).streaming_content)
    assert take.hearings.count() == 1


def test_a_draft_that_becomes_a_take_just_now_holds_up_no_clearing_away(week):
    user = week.horn.player.user
    draft = uploads._draft(user, uuid.uuid4())
    draft.symlink_to("nowhere")  # it stands in the folder's list, and is gone when it is looked at
    assert uploads.others_of(user, uuid.uuid4()) == (0, 0)
    assert uploads.forget_abandoned() == 0
    draft.unlink()
