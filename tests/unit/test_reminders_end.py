"""Who goes on being reminded, and how it ends: by itself, by a link without signing in, and never twice a day."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from assignments import reminder_letters, reminders, sweeper
from assignments.models import Reminder
from studio.models import Membership
from tests import builders, people
from tests.unit.test_reminders import DAY, at, guardian_of, horn_with_a_week, sent

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("names_a_mail_server")]


@pytest.fixture
def horn(studio):
    return horn_with_a_week(studio)


@pytest.fixture
def home(studio, horn) -> Membership:
    return guardian_of(horn)


@pytest.fixture
def reminder(horn, home) -> Reminder:
    return choose(horn, home)


def choose(horn, home, time_zone: str = "Europe/Lisbon", hour: int = 17, email: str = "home@example.org") -> Reminder:
    time = dt.time(hour, 30)
    chosen = reminders.choose(horn.player, by=home.user, at=time, time_zone=time_zone, email=email, language="en")
    reminders.confirm(chosen)
    return Reminder.objects.get(pk=chosen.pk)


def test_without_a_mail_server_nothing_is_written_and_nothing_counts(reminder, settings):
    settings.MAIL = ""
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = Path(settings.VAR) / "letters-of-this-test"
    assert [sent(day=day) for day in range(5)] == [0] * 5
    assert not settings.EMAIL_FILE_PATH.exists()
    reminder.refresh_from_db()
    assert not reminders.is_silent(reminder)


def test_who_plays_after_the_note_has_answered_it_wherever_the_studios_day_is(horn, home):
    choose(horn, home, "Pacific/Auckland", hour=7)  # the studio in Lisbon still has the evening before
    for day in range(5):
        assert sent(18, 31, day=day) == 1
        with at(19, 0, day=day):  # half past seven there, the day before here
            builders.take(horn.weeks.get(), b"sound of a morning")
        # Played today by the studio's day: the next note is due after its midnight.
    assert Reminder.objects.get().unanswered == 0


def test_nobody_who_no_longer_decides_is_written_to(reminder, horn, home):
    home.wards.clear()
    assert sent() == 0
    assert not Reminder.objects.exists()


def test_a_student_who_has_left_is_not_reminded(reminder, horn):
    horn.player.ends_on = DAY - dt.timedelta(days=1)
    horn.player.save()
    assert sent() == 0
    assert not Reminder.objects.exists()


def test_the_letter_holds_a_link_that_ends_it_without_signing_in(reminder):
    sent()
    (note,) = mail.outbox
    address = note.body.strip().splitlines()[-1]
    assert note.extra_headers["List-Unsubscribe"] == f"<{address}>"
    path, client = address.removeprefix("http://").partition("/")[2], Client(enforce_csrf_checks=True)
    assert "End the notes?" in client.get(f"/{path}").content.decode()
    assert Reminder.objects.exists()  # mail programs look at links by themselves
    for _twice in range(2):
        page = client.post(f"/{path}", {"List-Unsubscribe": "One-Click"}).content.decode()
        assert "No more notes come" in page
        assert not Reminder.objects.exists()


def test_an_old_letter_ends_nothing_that_goes_elsewhere_now(reminder, horn, home):
    old = reminder_letters.key(reminder)
    choose(horn, home, email="other@example.org")
    assert "No more notes come" in Client().post(reverse("reminder_stop", args=[old])).content.decode()
    assert Reminder.objects.exists()
    assert Client().post(reverse("reminder_stop", args=[f"{old}x"])).status_code == 404


def test_two_machines_send_one_note(reminder, monkeypatch):
    is_due = reminders._is_due

    def and_the_other_machine_sends_it_now(one, now):
        due = is_due(one, now)
        if due and not mail.outbox:
            monkeypatch.setattr(reminders, "_is_due", is_due)
            reminders.send_due()
        return due

    monkeypatch.setattr(reminders, "_is_due", and_the_other_machine_sends_it_now)
    assert sent() == 0
    assert len(mail.outbox) == 1


def test_a_mail_server_that_hangs_is_waited_for_once_and_after_the_sweepers_own_work(
    reminder, studio, monkeypatch, tmp_path, settings
):
    other = people.horn(studio, "Ottilie Fenn")
    guardian = people.person("Edda Fenn", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(other.player)
    with at():
        builders.week(other, people.teacher(studio, "Sela Brand").user, on=DAY - dt.timedelta(days=1))
    choose(other, guardian)
    settings.VAR = tmp_path
    done: list[str] = []

    def hangs(note):
        done.append("mail")
        raise TimeoutError

    monkeypatch.setattr("django.core.mail.EmailMessage.send", hangs)
    monkeypatch.setattr(sweeper, "_settle_measured", lambda: done.append("settled") or 0)
    cache.delete("reminded")
    with at():
        sweeper.sweep()
    assert done == ["settled", "mail"]
    assert set(Reminder.objects.values_list("last_sent_on", "last_sent_at", "unanswered")) == {(None, None, 0)}


def test_trouble_with_notes_comes_after_everything_else_was_written_down(reminder, monkeypatch, tmp_path, settings):
    settings.VAR = tmp_path

    def broken() -> int:
        raise RuntimeError("a broken note")

    monkeypatch.setattr(reminders, "send_due", broken)
    cache.delete("reminded")
    with pytest.raises(RuntimeError, match="a broken note"):
        sweeper.sweep()
    assert sweeper.note_file().exists()
