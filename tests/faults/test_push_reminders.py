"""The note of a reminder on devices: through a real service, sealed, once a day, as long as somebody wants it."""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator

import pytest
from django.core import mail
from django.core.cache import cache
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from assignments import reminder_posts, reminders, sweeper
from assignments.models import Reminder, ReminderDevice
from assignments.push import posting
from studio.models import Membership, Session, User
from tests import builders, people, push_service
from tests.unit.test_reminders import at, guardian_of, horn_with_a_week, sent

pytestmark = pytest.mark.django_db


@pytest.fixture
def service(settings, tmp_path, monkeypatch) -> Iterator[push_service.Service]:
    """The owner has switched notes on; the service may be called although it is on this machine."""
    settings.PUSH, settings.ADDRESS, settings.MAIL = True, "https://tones.example.org", "smtp://mail.example.org"
    monkeypatch.setattr(posting, "is_public", lambda address: True)
    monkeypatch.setenv("SSL_CERT_FILE", str(tmp_path / "push.pem"))
    with push_service.serving(tmp_path) as service:
        yield service


@pytest.fixture
def horn(db):
    return horn_with_a_week(people.studio())


@pytest.fixture
def home(horn) -> Membership:
    return guardian_of(horn)


class Phone:
    """A browser in which somebody is signed in and has asked for the notes of ``horn``'s player."""

    def __init__(self, user: User, horn, service: push_service.Service, path: str = "/p/one") -> None:
        self.client, self.browser, self.path = Client(), push_service.Browser(), path
        self.page = reverse("device_reminder", args=[horn.player_id])
        with at(9, 0):
            self.client.force_login(user)
            asked = {"what": "add", **self.browser.given(f"{service.origin}{path}")}
            assert self.client.post(self.page, asked).status_code == 302

    def told(self, service: push_service.Service) -> list[dict[str, str]]:
        """The notes that were sent to it, as it reads them."""
        return [json.loads(self.browser.unsealed(body)) for path, _headers, body in service.taken if path == self.path]


@pytest.fixture
def chosen(horn, home, service) -> Reminder:
    return choose(horn, home)


def choose(horn, home, hour: dt.time = dt.time(17, 30), email: str = "") -> Reminder:
    with at(9, 0):
        return reminders.choose(
            horn.player, by=home.user, at=hour, time_zone="Europe/Lisbon", email=email, language="en", way="device"
        )


@pytest.fixture
def phone(chosen, horn, home, service) -> Phone:
    return Phone(home.user, horn, service)


def test_the_sweeper_tells_a_device_what_it_alone_can_read(phone, service, horn):
    cache.delete("reminded")
    with at(17, 31):
        sweeper.sweep()
        now_s = timezone.now().timestamp()
    (note,) = phone.told(service)
    assert (note["body"], note["lang"], note["open"]) == ("Time for a few tones.", "en", "/")
    ((_path, headers, body),) = service.taken
    assert b"tones" not in body
    claims = push_service.vouched(headers["Authorization"]) or {}
    assert (claims["aud"], claims["sub"]) == (service.origin, "https://tones.example.org")
    assert now_s < claims["exp"] <= now_s + 24 * 3600
    assert headers["Content-Encoding"] == "aes128gcm"
    assert int(headers["TTL"]) == 59 * 60  # until the hour is over
    assert mail.outbox == []


def test_a_note_names_nobody_and_opens_the_students_own_today(chosen, horn, service):
    own = Phone(horn.player.user, horn, service)
    assert sent() == 1
    (note,) = own.told(service)
    assert note["open"] == "/today/"
    assert "Pim" not in json.dumps(note)


def test_one_a_day_within_the_hour_and_never_at_night(phone, horn, home, service):
    assert [sent(17, 29), sent(17, 30), sent(17, 31), sent(18, 0), sent(18, 30, day=1)] == [0, 1, 0, 0, 0]
    choose(horn, home, dt.time(20, 45))
    assert [sent(20, 50, day=2), sent(21, 1, day=3)] == [1, 0]
    assert service.taken[-1][1]["TTL"] == "600"  # a phone that was off shows nothing at night


def test_after_three_without_playing_it_falls_silent_and_who_has_played_is_left_alone(phone, horn, service):
    assert [sent(day=day) for day in range(5)] == [1, 1, 1, 0, 0]
    assert len(service.taken) == 3
    Reminder.objects.update(unanswered=0)
    with at(16, 0, day=5):
        builders.take(horn.weeks.get(), b"sound of a day")
    assert sent(day=5) == 0


@pytest.mark.parametrize("status", [404, 410])
def test_a_device_that_takes_no_more_is_forgotten_and_the_letter_comes(horn, home, service, status):
    reminders.confirm(choose(horn, home, email="home@example.org"))
    Phone(home.user, horn, service)
    service.answers = [status]
    assert sent() == 1
    assert not ReminderDevice.objects.exists()
    assert [letter.to for letter in mail.outbox] == [["home@example.org"]]
    assert [sent(17, 40), len(service.taken)] == [0, 1]


def test_a_busy_service_is_left_alone_as_long_as_it_says_and_told_once(phone, service):
    service.answers = [429]
    assert [sent(17, 30), sent(17, 45), sent(17, 51), sent(17, 52)] == [0, 0, 1, 0]
    assert len(service.taken) == 2
    assert Reminder.objects.get().unanswered == 0


def test_what_no_service_took_counts_for_nothing_and_no_letter_doubles_it(horn, home, service):
    reminders.confirm(choose(horn, home, email="home@example.org"))
    Phone(home.user, horn, service)
    for day in range(4):
        service.answers = [503] * 6
        assert [sent(17, minute, day=day) for minute in range(30, 60, 5)] == [0] * 6
        service.answers = []
    reminder = Reminder.objects.get()
    assert (reminder.unanswered, reminder.last_sent_on, mail.outbox) == (0, None, [])
    assert len(service.taken) == 12  # every ten minutes


def test_an_answer_that_never_came_may_have_been_a_yes(phone, service, monkeypatch):
    monkeypatch.setattr(posting, "LONGEST_S", 3.0)
    service.answers = ["hangs"]
    assert [sent(17, 30), sent(17, 45), sent(17, 59)] == [0, 0, 0]
    assert len(service.taken) == 1
    assert Reminder.objects.get().unanswered == 0
    assert sent(day=1) == 1


def test_of_two_devices_the_one_that_was_missed_alone_is_told_again(phone, horn, home, service):
    other = Phone(home.user, horn, service, "/p/two")
    service.answers = [201, 500]
    assert [sent(17, 30), sent(17, 35), sent(17, 41), sent(17, 52)] == [1, 0, 1, 0]
    assert [len(one.told(service)) for one in (phone, other)] == [1, 2]


def test_who_plays_meanwhile_is_not_told_again(phone, horn, service):
    service.answers = [500]
    assert sent(17, 30) == 0
    with at(17, 35):
        builders.take(horn.weeks.get(), b"sound of a day")
    assert sent(17, 45) == 0


def test_a_service_that_keeps_one_waiting_is_left_alone_for_the_round(phone, horn, home, service, monkeypatch):
    Phone(home.user, horn, service, "/p/two")
    monkeypatch.setattr(posting, "LONGEST_S", 3.0)
    service.answers = ["hangs"]
    assert sent(17, 30) == 0
    assert len(service.taken) == 1
    assert sent(17, 31) == 1


def test_a_round_that_lasts_too_long_leaves_the_others_to_the_next(phone, service, monkeypatch):
    monkeypatch.setattr(reminder_posts, "LONGEST_ROUND_S", -1.0)
    assert (sent(17, 30), service.taken) == (0, [])
    monkeypatch.setattr(reminder_posts, "LONGEST_ROUND_S", 60.0)
    assert sent(17, 31) == 1


def test_of_two_machines_one_tells(phone, service, monkeypatch):
    post = posting.post

    def while_another_machine_looks_too(*given):
        monkeypatch.setattr(posting, "post", post)
        assert reminders.send_due() == 0
        return post(*given)

    monkeypatch.setattr(posting, "post", while_another_machine_looks_too)
    assert sent() == 1
    assert len(service.taken) == 1


def test_a_browser_that_was_handed_on_shows_notes_to_whoever_asked_last(phone, horn, service):
    second = Phone(horn.player.user, horn, service)  # the same address
    assert sent() == 1
    assert len(service.taken) == 1
    assert [note["open"] for note in second.told(service)] == ["/today/"]


def test_whoever_no_longer_may_is_not_told(phone, horn, home, service):
    own = Phone(horn.player.user, horn, service, "/p/own")
    other = people.person("Edda Fenn", horn.studio, Membership.Role.GUARDIAN)
    other.wards.add(horn.player)
    Reminder.objects.update(chosen_by=other.user)
    home.wards.clear()
    assert sent() == 1
    assert [len(one.told(service)) for one in (phone, own)] == [0, 1]


def test_a_sign_in_that_has_run_out_shows_nothing(phone, service):
    Session.objects.update(expire_date=dt.datetime(2026, 3, 16, 17, tzinfo=dt.UTC))
    assert sent() == 0
    assert service.taken == []


def test_nobody_is_called_where_the_owner_has_not_switched_it_on(horn, home, phone, service, settings):
    reminders.confirm(choose(horn, home, email="home@example.org"))
    settings.PUSH = False
    assert sent() == 1
    assert service.taken == []
    assert [letter.to for letter in mail.outbox] == [["home@example.org"]]


def test_with_another_secret_key_devices_have_to_ask_anew(phone, service, settings):
    settings.SECRET_KEY = "another secret of fifty characters or more, for the site"
    assert sent() == 0
    assert service.taken == []
    assert not ReminderDevice.objects.exists()


def test_logs_say_neither_whose_browser_nor_where(phone, service, caplog):
    service.answers = [500, 503]
    sent(17, 30)
    sent(17, 45)
    assert "it answered 503" in caplog.text
    assert "127.0.0.1" not in caplog.text
    assert "Pim" not in caplog.text
