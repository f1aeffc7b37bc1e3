"""One note a day at the chosen time: not at night, not after playing, not on a pause, and not for ever."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator
from email import message_from_bytes
from email.policy import default
from typing import Any

import pytest
import time_machine
from aiosmtpd.controller import Controller
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse

from assignments import decisions, plans, reminders, sweeper
from assignments.models import Reminder
from studio import consent
from studio.models import Horn, Membership
from tests import builders, people
from tests.faults.serving import free_port

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("names_a_mail_server")]

DAY = dt.date(2026, 3, 16)  # a Monday; Lisbon keeps UTC until the 29th
AT = dt.time(17, 30)


@pytest.fixture
def horn(studio):
    return horn_with_a_week(studio)


@pytest.fixture
def home(studio, horn) -> Membership:
    return guardian_of(horn)


@pytest.fixture
def reminder(horn, home) -> Reminder:
    return choose(horn, home)


def horn_with_a_week(studio) -> Horn:
    horn = people.horn(studio)
    with at():
        builders.week(horn, people.teacher(studio).user, on=DAY - dt.timedelta(days=1))
    return horn


def guardian_of(horn) -> Membership:
    guardian = people.person("Jo Larkspur", horn.studio, Membership.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    return guardian


def choose(horn, home, at: dt.time = AT, time_zone: str = "Europe/Lisbon", language: str = "en") -> Reminder:
    """To an address that has been confirmed."""
    chosen = reminders.choose(
        horn.player, by=home.user, at=at, time_zone=time_zone, email="home@example.org", language=language
    )
    reminders.confirm(chosen)
    return Reminder.objects.get(pk=chosen.pk)


def at(hour: int = 17, minute: int = 31, day: int = 0) -> Any:
    return time_machine.travel(dt.datetime(2026, 3, 16 + day, hour, minute, tzinfo=dt.UTC), tick=False)


def sent(hour: int = 17, minute: int = 31, day: int = 0) -> int:
    with at(hour, minute, day):
        return reminders.send_due()


def test_the_note_asks_kindly_and_holds_no_more_than_it_must(reminder, horn):
    assert sent() == 1
    (note,) = mail.outbox
    assert (note.subject, note.to) == ("Five minutes now?", ["home@example.org"])
    assert note.body.startswith("Pim, 5 minutes, 20 tones.")
    assert reverse("today") in note.body
    assert reverse("home_reminder", args=[horn.player_id]) in note.body
    assert "Larkspur" not in note.body
    for guilt in ("miss", "streak", "catch up", "forgot", "should"):
        assert guilt not in note.body.lower()


def test_one_note_a_day_within_the_hour_after_the_chosen_time(reminder):
    assert [sent(17, 29), sent(17, 30), sent(17, 31), sent(18, 0)] == [0, 1, 0, 0]
    assert [sent(18, 30, day=1), sent(18, 29, day=2)] == [0, 1]


def test_the_time_is_the_students_own(horn, home):
    choose(horn, home, time_zone="Pacific/Auckland")  # thirteen hours ahead in March
    assert [sent(17, 31), sent(4, 29), sent(4, 31)] == [0, 0, 1]


@pytest.mark.parametrize("time", [dt.time(21), dt.time(23, 30), dt.time(6, 59)])
def test_nobody_is_reminded_at_night_whatever_the_row_says(horn, home, time):
    choose(horn, home, at=time)
    assert sent(time.hour, time.minute) == 0


def test_after_a_late_time_the_quiet_hours_cut_the_hour_short(horn, home):
    choose(horn, home, at=dt.time(20, 45))
    assert sent(21, 5) == 0
    assert sent(20, 55, day=1) == 1


def test_after_three_notes_without_playing_it_falls_silent_and_saving_wakes_it(reminder, horn, home):
    assert [sent(day=day) for day in range(5)] == [1, 1, 1, 0, 0]
    reminder.refresh_from_db()
    assert reminders.is_silent(reminder)
    choose(horn, home)
    assert sent(day=5) == 1


def test_a_day_that_was_played_begins_the_count_again(reminder, horn):
    assert [sent(day=0), sent(day=1)] == [1, 1]
    with at(19, 0, day=1):
        builders.take(horn.weeks.get(), b"sound of a day")
    assert [sent(day=day) for day in range(2, 6)] == [1, 1, 1, 0]


def test_nobody_who_has_played_or_stopped_for_pain_is_reminded(reminder, horn):
    with at(16, 0):
        plan = plans.plan_for(horn, DAY)
        builders.take(horn.weeks.get(), b"sound of a day")
    assert sent() == 0
    with at(16, 0, day=1):
        plan = plans.plan_for(horn, DAY + dt.timedelta(days=1))
        plans.stop_because_it_hurts(plan, teacher_may_know=False)
    assert sent(day=1) == 0


def test_a_pause_no_week_and_no_permission_are_quiet_and_count_nothing(reminder, horn):
    with at():
        teacher = horn.weeks.get().set_by
        pause = {"horn": horn, "by": teacher, "kind": "pause", "words": "Holidays."}
        decisions.decide(**pause, until_on=DAY + dt.timedelta(days=2))
    assert [sent(day=day) for day in range(3)] == [0, 0, 0]
    assert sent(day=3) == 1
    with at(day=3):
        consent.withdraw(student=horn.player, by=teacher)
    assert sent(day=4) == 0
    reminder.refresh_from_db()
    assert reminder.unanswered == 0


def test_a_mail_server_that_is_away_is_asked_again_and_counts_nothing(reminder, settings):
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT = "127.0.0.1", 9  # where nobody answers
    assert sent() == 0
    reminder.refresh_from_db()
    assert (reminder.last_sent_on, reminder.unanswered) == (None, 0)
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"
    assert sent(17, 40) == 1


class Letters:
    """What a real mail server was given."""

    def __init__(self) -> None:
        self.received: list[bytes] = []

    async def handle_DATA(self, server: object, session: object, envelope: Any) -> str:  # noqa: N802  # aiosmtpd's name
        self.received.append(envelope.content)
        return "250 taken"


@pytest.fixture
def mail_server() -> Iterator[tuple[Letters, int]]:
    letters = Letters()
    controller = Controller(letters, hostname="127.0.0.1", port=free_port())
    controller.start()
    yield letters, controller.port
    controller.stop()


def test_the_sweeper_sends_through_a_real_mail_server_in_the_familys_language(horn, home, mail_server, settings):
    letters, settings.EMAIL_PORT = mail_server
    settings.EMAIL_HOST, settings.DEFAULT_FROM_EMAIL = "127.0.0.1", "studio@example.org"
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    choose(horn, home)
    cache.delete("reminded")
    with at():
        sweeper.sweep()
    (raw,) = letters.received
    letter = message_from_bytes(raw, policy=default)
    assert (letter["To"], letter["From"]) == ("home@example.org", "studio@example.org")
    assert "Pim" in letter.get_content()


def test_a_family_chooses_changes_and_ends_it(home, horn):
    client = Client()
    client.force_login(home.user)
    address = reverse("home_reminder", args=[horn.player_id])
    form = {"at": "17:30", "time_zone": "Europe/Lisbon", "email": "home@example.org"}
    assert "No reminder" in client.get(address).content.decode()
    assert client.post(address, form).status_code == 302
    reminders.confirm(Reminder.objects.get())
    assert "A note at 17:30" in client.get(address).content.decode()
    assert client.post(address, {**form, "at": "22:00"}).status_code == 400
    assert client.post(address, {**form, "time_zone": "Quay/Lantern"}).status_code == 400
    assert Reminder.objects.get().at == AT
    Reminder.objects.update(unanswered=3)
    assert "The reminder is silent" in client.get(address).content.decode()
    client.post(address, {"what": "stop"})
    assert not Reminder.objects.exists()


def test_a_site_without_a_mail_server_says_so(home, horn, settings):
    client = Client()
    client.force_login(home.user)
    address = reverse("home_reminder", args=[horn.player_id])
    settings.MAIL = ""
    client.post(address, {"at": "17:30", "time_zone": "Europe/Lisbon", "email": "home@example.org"})
    page = client.get(address).content.decode()
    assert "can’t send e-mail yet" in page
    assert "A letter goes to" not in page
    settings.MAIL = "smtp://mail.example.org"
    page = client.get(address).content.decode()
    assert "can’t send e-mail yet" not in page
    assert "A letter goes to" in page


def test_a_child_is_sent_home_to_choose_and_who_is_of_age_chooses(horn):
    client = Client()
    client.force_login(horn.player.user)
    assert "Ask at home: it is chosen there." in client.get(reverse("mine")).content.decode()
    Membership.objects.filter(pk=horn.player_id).update(of_age=True)
    assert reverse("home_reminder", args=[horn.player_id]) in client.get(reverse("mine")).content.decode()
