"""Before the first note its address is asked, once: a letter to a mistyped stranger does not go on."""

from __future__ import annotations

import datetime as dt

import pytest
from django.core import mail
from django.test import Client
from django.urls import reverse

from assignments import reminders
from assignments.models import Reminder
from studio.models import Membership
from tests.unit.test_reminders import AT, at, guardian_of, horn_with_a_week, sent

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("names_a_mail_server")]


@pytest.fixture
def horn(studio):
    return horn_with_a_week(studio)


@pytest.fixture
def home(studio, horn) -> Membership:
    return guardian_of(horn)


def choose(horn, home, email: str = "home@example.org") -> Reminder:
    return reminders.choose(horn.player, by=home.user, at=AT, time_zone="Europe/Lisbon", email=email, language="en")


def link() -> str:
    """The path in the last letter."""
    (address,) = (line for line in mail.outbox[-1].body.splitlines() if line.startswith("http"))
    return "/" + address.split("/", 3)[3]


def test_a_new_address_gets_one_letter_that_names_nobody_and_then_none(horn, home):
    choose(horn, home)
    assert [sent(day=day) for day in range(4)] == [1, 0, 0, 0]
    (letter,) = mail.outbox
    assert (letter.subject, letter.to) == ("Is this address right?", ["home@example.org"])
    assert "Pim" not in letter.body
    assert "Lantern Quay" not in letter.body


def test_who_reads_it_says_yes_and_the_notes_begin(horn, home):
    choose(horn, home)
    sent(9, 0)
    client = Client(enforce_csrf_checks=True)
    page = client.get(link())
    assert "Yes, send the notes here" in page.content.decode()
    assert "Pim" not in page.content.decode()
    assert Reminder.objects.get().confirmed_at is None  # mail programs look at links by themselves
    for _twice in range(2):
        page = client.post(link(), {"csrfmiddlewaretoken": client.cookies["footing-csrf"].value})
        assert "The address is right" in page.content.decode()
    assert sent() == 1
    assert mail.outbox[-1].subject == "Five minutes now?"


def test_another_address_is_asked_anew_and_the_first_ones_letter_confirms_nothing(horn, home):
    choose(horn, home, "hoem@example.org")
    sent(9, 0)
    old = link()
    choose(horn, home)
    page = Client().post(old)
    assert "No more notes come" in page.content.decode()
    assert sent(9, 1) == 1
    assert [letter.to for letter in mail.outbox] == [["hoem@example.org"], ["home@example.org"]]
    assert Reminder.objects.get().confirmed_at is None


def test_the_same_address_at_another_time_stays_confirmed(horn, home):
    reminders.confirm(choose(horn, home))
    choose(horn, home)
    assert sent(9, 0) == 0
    assert sent() == 1


def test_a_letter_that_went_astray_is_sent_again_after_an_hour_and_no_sooner(horn, home):
    with at(9, 0):
        choose(horn, home)
    sent(9, 0)
    with at(9, 30):
        choose(horn, home)
    assert sent(9, 31) == 0
    with at(10, 30):
        choose(horn, home)
    assert sent(10, 31) == 1


def test_to_and_fro_between_addresses_each_gets_one_letter_an_hour(horn, home):
    for minute, address in enumerate(["a@example.org", "b@example.org"] * 4):
        with at(9, minute):
            choose(horn, home, address)
        sent(9, minute)
    assert [letter.to for letter in mail.outbox] == [["a@example.org"], ["b@example.org"]]
    assert sent(10, 3) == 1  # to the last that was chosen, as nobody has confirmed it
    assert mail.outbox[-1].to == ["b@example.org"]


def test_of_one_student_three_strangers_an_hour_are_asked_at_most(horn, home):
    for minute in range(5):
        with at(9, minute):
            choose(horn, home, f"{minute}@example.org")
        sent(9, minute)
    assert len(mail.outbox) == 3
    assert sent(10, 1) == 1  # the last one's turn comes by itself


def test_a_mail_server_that_is_away_is_asked_again_for_the_question_too(horn, home, settings):
    choose(horn, home)
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", 1, 1
    assert sent(9, 0) == 0
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    assert sent(9, 1) == 1


def test_nobody_who_no_longer_decides_asks_a_stranger(horn, home):
    choose(horn, home)
    home.wards.clear()
    assert sent(9, 0) == 0
    assert not Reminder.objects.exists()


def test_the_family_sees_that_the_address_is_still_to_be_confirmed(horn, home, client):
    client.force_login(home.user)
    chosen = choose(horn, home)
    page = reverse("home_reminder", args=[horn.player.pk])
    assert "The address is still to be confirmed" in client.get(page).content.decode()
    reminders.confirm(chosen)
    assert "A note at 17:30" in client.get(page).content.decode()


def test_of_two_machines_one_asks(horn, home):
    chosen = choose(horn, home)
    now = dt.datetime(2026, 3, 16, 9, tzinfo=dt.UTC)
    with at(9, 0):
        assert [reminders._ask(chosen, now, None) for _machine in range(2)] == [True, False]
