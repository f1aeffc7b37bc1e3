"""Choosing notes on a phone or computer: where the owner allows it, by whom it may be, and what each is shown."""

from __future__ import annotations

import re

import pytest
from django.test import Client
from django.urls import reverse

from assignments.models import Reminder, ReminderDevice
from assignments.push import base64url
from studio import devices, sessions
from studio.models import Membership
from tests import people, push_service

pytestmark = pytest.mark.django_db

FORM = {"at": "17:30", "time_zone": "Europe/Lisbon", "way": "device", "email": ""}
ENDPOINT = "https://push.example.org/p/"


@pytest.fixture(autouse=True)
def allowed(settings) -> None:
    settings.PUSH, settings.ADDRESS, settings.MAIL = True, "https://tones.example.org", "smtp://mail.example.org"


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def home(studio, horn) -> Membership:
    guardian = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    return guardian


class Reader:
    def __init__(self, user, horn) -> None:
        self.client = Client(headers={"user-agent": "Mozilla/5.0 (Android 15; Mobile) Firefox/140.0"})
        self.client.force_login(user)
        self.choice, self.device = (
            reverse(name, args=[horn.player_id]) for name in ("home_reminder", "device_reminder")
        )

    def shown(self, address: str) -> str:
        return self.client.get(address).content.decode()

    def add(self, endpoint: str = ENDPOINT, **other: str):
        given = push_service.Browser().given(endpoint)
        return self.client.post(self.device, {"what": "add", **given, **other})


@pytest.fixture
def family(home, horn) -> Reader:
    return Reader(home.user, horn)


@pytest.fixture
def child(horn) -> Reader:
    return Reader(horn.player.user, horn)


def test_where_the_owner_has_not_switched_it_on_no_page_shows_it(family, child, settings):
    family.client.post(family.choice, FORM)
    settings.PUSH = False
    page = family.shown(family.choice)
    assert "phone or computer" not in page
    assert "device/" not in page
    assert "device/" not in child.shown(reverse("mine"))
    assert [one.client.get(one.device).status_code for one in (family, child)] == [404, 404]
    assert [one.add().status_code for one in (family, child)] == [404, 404]
    assert "The reminder needs an address" in page
    assert family.client.post(family.choice, FORM).status_code == 400  # then it is e-mail


def test_who_chooses_a_device_is_told_beside_it_what_that_means_and_comes_to_its_page(family):
    page = family.shown(family.choice)
    assert "the maker can’t read it, but learns that this device got something from here, and when" in page
    answer = family.client.post(family.choice, FORM)
    assert (answer.status_code, answer["Location"]) == (302, family.device)
    assert "A note here at 17:30?" in family.shown(family.device)
    assert "No device shows it yet." in family.shown(family.choice)


def test_a_device_that_asked_shows_it_until_it_is_told_not_to(family):
    family.client.post(family.choice, FORM)
    assert family.add().status_code == 302
    assert "A note comes here at 17:30" in family.shown(family.device)
    assert "No device shows it yet." not in family.shown(family.choice)
    family.client.post(family.device, {"what": "forget", "device": ReminderDevice.objects.get().pk})
    assert not ReminderDevice.objects.exists()
    assert "A note here at 17:30?" in family.shown(family.device)


def test_an_address_is_needed_for_letters_alone(family):
    field = re.search(r'<input type="email"[^>]*>', family.shown(family.choice))
    assert field is not None
    assert "required" not in field[0]  # the browser would hold the form back
    answer = family.client.post(family.choice, {**FORM, "way": "letter"})
    assert (answer.status_code, "A letter needs an address." in answer.content.decode()) == (400, True)
    assert family.client.post(family.choice, {**FORM, "way": "pigeon"}).status_code == 400
    assert not Reminder.objects.exists()


def test_who_turns_to_letters_lets_the_devices_go(family):
    family.client.post(family.choice, FORM)
    family.add()
    family.client.post(family.choice, {**FORM, "way": "letter", "email": "home@example.org"})
    assert not ReminderDevice.objects.exists()
    assert "Choose a time first" in family.shown(family.device)
    family.add()
    assert not ReminderDevice.objects.exists()


def test_a_child_has_it_on_a_phone_of_its_own_once_it_was_chosen_at_home(family, child):
    assert child.device not in child.shown(reverse("mine"))
    assert "it is chosen there" in child.shown(child.device)
    child.add()
    assert not ReminderDevice.objects.exists()
    family.client.post(family.choice, FORM)
    family.add(f"{ENDPOINT}home")
    assert child.device in child.shown(reverse("mine"))
    child.add(f"{ENDPOINT}own")
    page = child.shown(child.device)
    assert "A note comes here at 17:30" in page
    assert "Other devices" not in page
    theirs = ReminderDevice.objects.get(endpoint=f"{ENDPOINT}home").pk
    assert child.client.post(child.device, {"what": "forget", "device": theirs}).status_code == 404
    assert "Other devices" in family.shown(family.device)
    own = ReminderDevice.objects.get(endpoint=f"{ENDPOINT}own").pk
    assert family.client.post(family.device, {"what": "forget", "device": own}).status_code == 302
    assert [one.pk for one in ReminderDevice.objects.all()] == [theirs]


def test_a_shared_device_is_not_offered_notes(family, child, studio, home, horn):
    family.client.post(family.choice, FORM)
    _row, secret = devices.enrol(studio=studio, by=home.user, name="kitchen", players=[horn.player])
    child.client.cookies[devices.cookie_name()] = secret
    assert child.device not in child.shown(reverse("mine"))
    page = child.shown(child.device)
    assert "This device is shared" in page
    assert "<form" not in page
    child.add()
    assert not ReminderDevice.objects.exists()


@pytest.mark.parametrize(
    "wrong",
    [
        {"endpoint": "http://push.example.org/p"},
        {"endpoint": "https://push.example.org/\r\nX: y"},
        {"public_key": base64url.encode(b"\x04" + b"k" * 63)},
        {"public_key": base64url.encode(b"\x04" + b"k" * 64)},  # of the right length, and no point of the curve
        {"public_key": "no key at all, and with signs: !"},
        {"auth": base64url.encode(b"short")},
        {"auth": ""},
    ],
)
def test_what_no_browser_gives_is_not_taken_in(family, wrong):
    family.client.post(family.choice, FORM)
    assert family.add(**wrong).status_code == 400
    assert not ReminderDevice.objects.exists()


@pytest.mark.parametrize("device", ["", "none", "0", "-1", "9" * 40, "1" * 5000])
def test_what_is_no_device_ends_nothing(family, device):
    family.client.post(family.choice, FORM)
    family.add()
    assert family.client.post(family.device, {"what": "forget", "device": device}).status_code in (200, 404)
    assert ReminderDevice.objects.exists()


def test_a_sixth_device_takes_the_place_of_the_first(family, home, horn):
    family.client.post(family.choice, FORM)
    for number in range(6):
        Reader(home.user, horn).add(f"{ENDPOINT}{number}")
    kept = ReminderDevice.objects.order_by("pk").values_list("endpoint", flat=True)
    assert list(kept) == [f"{ENDPOINT}{number}" for number in range(1, 6)]


def test_the_page_gives_the_browser_the_sites_public_key_and_no_secret_of_a_device(family):
    family.client.post(family.choice, FORM)
    family.add()
    page = family.shown(family.device)
    (key,) = re.findall(r'data-site-key="([\w-]+)"', page)
    assert base64url.decode(key)[0] == 4
    assert len(base64url.decode(key)) == 65
    assert ReminderDevice.objects.get().site_key == key
    assert ENDPOINT not in page


def test_signing_out_ends_the_notes_there(family):
    family.client.post(family.choice, FORM)
    family.add()
    family.client.post(reverse("sign-out"))
    assert not ReminderDevice.objects.exists()


def test_a_new_passphrase_ends_the_notes_where_it_was_chosen_too(family, home):
    family.client.post(family.choice, FORM)
    family.add()
    renewed = {"what": "passphrase", "old": people.PASSWORD, "new": "otter-lamp-cedar-plum"}
    assert family.client.post(reverse("my_doors"), renewed).status_code == 302
    assert not ReminderDevice.objects.exists()
    assert "A note here at 17:30?" in family.shown(family.device)


def test_a_sign_in_that_is_ended_from_elsewhere_ends_the_notes_there(family, home, horn):
    family.client.post(family.choice, FORM)
    family.add()
    elsewhere = Reader(home.user, horn)
    sessions.end_others(home.user, here=elsewhere.client.session.session_key)
    assert not ReminderDevice.objects.exists()
    assert "A note here at 17:30?" in elsewhere.shown(family.device)
