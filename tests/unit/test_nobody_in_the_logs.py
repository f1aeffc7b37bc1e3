"""One whole journey, by people whose every word is marked: log, messages and metrics hold none of the marks."""

from __future__ import annotations

import logging
import re
import time
import uuid

import pytest
from celery import current_app
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import IntegrityError, transaction
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from analysis.tasks import measure
from assignments import reminder_letters, settling
from assignments.models import Reminder
from studio import invitations, one_time_codes, second_step
from studio.invitations import Whom
from studio.models import Membership, User
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

MARK = "marmalade"
NAME, PASSPHRASE, DIGITS = "Marmalade Larkspur", "marmalade-lamp-cedar-plum", "481516"


def join(code: str, name: str) -> tuple[Client, User]:
    client = Client()
    client.post(reverse("join"), {"code": code})
    client.post(reverse("join_as"), {"name": name, "passphrase": PASSPHRASE})
    return client, User.objects.get(pk=client.session["_auth_user_id"])


def take(phone: Client, player: Membership, owner: User) -> None:
    """One recording, sent by its phone."""
    week = builders.week(player.horns.get(), owner)
    file = SimpleUploadedFile("marmalade.wav", b"RIFF, and marmalade after it", "audio/wav")
    sent = {"client_key": uuid.uuid4(), "exercise": builders.daily(week).pk, "slots": "0", "audio": file}
    assert phone.post(reverse("api-takes"), sent).status_code == 201


def at_home(home: Client, player: Membership) -> None:
    address = [player.pk]
    given = {"what": "give", "given_by": "Marmalade Fenn", "agree": "on"}
    assert home.post(reverse("home_permission", args=address), given).status_code == 302
    home.post(reverse("home_messages", args=address), {"text": "marmalade words"})
    reminder = {"at": "17:00", "time_zone": "UTC", "email": "marmalade@example.org"}
    assert home.post(reverse("home_reminder", args=address), reminder).status_code == 302
    home.post(reverse("pin", args=address), {"digits": DIGITS})


def guesses(username: str) -> None:
    """More than are looked at."""
    for _try in range(7):
        Client().post("/sign-in/", {"username": username, "password": "marmalade-wrong"})
    for _try in range(11):
        Client().post("/join/", {"code": "MARMA-LADES"})


def journey(studio, owner: User) -> list[str]:
    """What people do, right and wrong. Returns the secrets that came up on the way."""
    horn = {"kind": "alto", "lowest_written_midi": 58, "highest_keyed_written_midi": 90, "level": "beginner"}
    code = invitations.invite(Whom(role="student", name=NAME, horn=horn), studio=studio, by=owner)[1]
    phone, child = join(code, NAME)
    player = Membership.objects.get(user=child)
    home_code = invitations.invite(Whom(role="guardian", ward=player), studio=studio, by=owner)[1]
    home, guardian = join(home_code, "Marmalade Fenn")
    at_home(home, player)
    letter = reminder_letters.key(Reminder.objects.get())
    take(phone, player, owner)
    guesses(child.username)
    shown = phone.post(reverse("calendar_address"), {"what": "make"}).content.decode()
    secret = shown.split("/calendar/")[1].split(".ics")[0]
    seed = second_step.new_seed()
    digits = one_time_codes.at(second_step.secret_of(seed), int(time.time()) // 30)
    recovery = second_step.turn_on(guardian, seed, digits) or []
    stranger = Client(raise_request_exception=False)
    lost = (f"/calendar/{secret}", "/marmalade/", f"/join/{code}/", f"/reminders/{letter}/no/")
    assert [stranger.get(path).status_code for path in lost] == [404] * 4
    assert stranger.get(reverse("calendar_feed", args=[secret])).status_code == 500  # the test broke it
    keys = [str(one.session.session_key) for one in (phone, home)]
    return [code, home_code, DIGITS, secret, seed, digits, letter, PASSPHRASE, *recovery, *keys]


def messages() -> str:
    """Everything that lies in the broker."""
    with current_app.connection_for_write() as line:
        broker = line.default_channel.client
        lists = [key for key in broker.keys("*") if broker.type(key) == b"list"]
        return str([broker.lrange(key, 0, -1) for key in lists])


def test_nobody_stands_in_log_messages_or_metrics(
    studio, lines, monkeypatch, empty_queue, django_capture_on_commit_callbacks
):
    def broken(_user: User) -> bytes:
        raise RuntimeError("a fault in the program")

    monkeypatch.setattr("assignments.views.calendars.calendars.feed", broken)
    owner = people.person("Marmalade Keel", studio, "owner").user
    with django_capture_on_commit_callbacks(execute=True):
        secrets = journey(studio, owner)
    sent = messages()
    analysis = Analysis.objects.get()
    assert str(analysis.pk) in sent
    measure(str(analysis.pk))
    settling.settle(analysis.pk)
    told = Client().get("/metrics").content.decode()
    said = "\n".join([*lines, sent, told])
    assert len(lines) > 5
    assert [line for line in lines if MARK in line.lower()] == []
    assert MARK not in said.lower()
    assert [secret for secret in secrets if stands(secret, said)] == []


def stands(secret: str, said: str) -> bool:
    """Six digits as a word of their own: by chance they stand within many a key, and after many a point."""
    return re.search(rf"(?<![0-9a-f.]){secret}(?![0-9a-f])", said) is not None if secret.isdigit() else secret in said


@pytest.mark.parametrize("said", ['{"digits": "394033"}', "digits=394033&x", "code 394033."])
def test_six_digits_would_be_found(said):
    assert stands("394033", said)
    assert not stands("394033", '"4f394033a1", 12.394033, 1394033')


def test_a_row_that_the_database_refuses_is_not_shown(lines):
    username = people.person(NAME, people.studio(), "student").user.username
    try:
        with transaction.atomic():
            User.objects.create_user(username, name="another")
    except IntegrityError:
        logging.getLogger("django.request").exception("Internal Server Error")
    (line,) = lines
    assert "IntegrityError" in line
    assert MARK not in line.lower()
