"""A tablet that several children share: a grown-up enrols it, six digits open one child, five wrong ones nobody."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.conf import settings
from django.test import Client
from django.urls import reverse

from studio import devices, pins
from studio.models import Device, LogRow, Membership, Pin, Session
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

DIGITS = "270951"


@pytest.fixture
def pim(studio):
    return people.horn(studio).player


@pytest.fixture
def ottilie(studio):
    return people.horn(studio, "Ottilie Fenn").player


@pytest.fixture
def guardian(studio, pim, ottilie):
    home = people.person("Edda Fenn", studio, Membership.Role.GUARDIAN)
    home.wards.set([pim, ottilie])
    return home.user


@pytest.fixture
def tablet(guardian, pim, ottilie) -> Client:
    """Enrolled at the kitchen table; each child has a PIN."""
    pins.set_pin(pim, DIGITS, by=guardian)
    pins.set_pin(ottilie, "118834", by=guardian)
    client = Client()
    client.force_login(guardian)
    answer = client.post(reverse("devices"), {"name": "kitchen tablet", "players": [str(pim.pk), str(ottilie.pk)]})
    assert answer.url == reverse("whose_turn")
    return client


def try_pin(client, player, digits=DIGITS):
    return client.post(reverse("turn_of", args=[player.pk]), {"digits": digits})


def test_after_enrolling_the_grown_up_is_signed_out_and_the_names_are_there(tablet):
    assert tablet.get(reverse("home")).status_code == 302
    page = tablet.get(reverse("whose_turn")).content.decode()
    assert "Pim Larkspur" in page
    assert "Ottilie Fenn" in page


def test_asked_to_sign_in_a_shared_device_asks_whose_turn_it_is(tablet):
    assert tablet.get(reverse("sign-in")).url == reverse("whose_turn")
    assert tablet.get(reverse("sign-in") + "?grown-up").status_code == 200


def test_six_digits_open_that_childs_pages(tablet, pim, ottilie):
    assert try_pin(tablet, pim).url == reverse("home")
    assert "Pim" in tablet.get(reverse("today")).content.decode()
    assert tablet.get(reverse("home_month", args=[pim.pk])).status_code == 404
    tablet.post(reverse("sign-out"))
    assert try_pin(tablet, ottilie, "118834").status_code == 302
    assert "Ottilie" in tablet.get(reverse("today")).content.decode()


def test_the_next_ones_turn_is_one_tap_away_on_every_page_of_a_shared_device_alone(tablet, pim, client):
    try_pin(tablet, pim)
    assert "Somebody else’s turn" in tablet.get(reverse("today")).content.decode()
    asked = tablet.post(reverse("sign-out"), follow=True)
    assert asked.redirect_chain[-1][0] == reverse("whose_turn")
    client.force_login(pim.user)
    assert "Somebody else’s turn" not in client.get(reverse("today")).content.decode()


def test_anywhere_else_the_digits_open_nothing(tablet, pim):
    elsewhere = Client()
    assert elsewhere.get(reverse("whose_turn")).url == reverse("sign-in")
    assert try_pin(elsewhere, pim).status_code == 404
    forged = Client()
    forged.cookies[devices.cookie_name()] = "x" * 43
    assert try_pin(forged, pim).status_code == 404


def test_a_child_who_does_not_play_on_it_is_not_there(tablet, studio):
    other = people.horn(studio, "Rufus Tarn").player
    pins.set_pin(other, DIGITS, by=other.user)
    assert try_pin(tablet, other).status_code == 404


def test_after_five_wrong_tries_even_the_right_digits_open_nothing_until_a_grown_up_sets_others(
    tablet, pim, ottilie, guardian
):
    for _ in range(4):
        assert try_pin(tablet, pim, "000000").status_code == 400
    assert try_pin(tablet, pim, "000000").status_code == 429
    answer = try_pin(tablet, pim)
    assert answer.status_code == 429
    assert "Ask a grown-up" in answer.content.decode()
    assert LogRow.objects.filter(what="pin_locked", about_id=pim.pk).count() == 1
    assert try_pin(tablet, ottilie, "118834").status_code == 302  # one child's tries shut nobody else out
    phone = Client()
    phone.force_login(guardian)
    assert phone.post(reverse("pin", args=[pim.pk]), {"digits": "442907"}).url == reverse("devices")
    assert try_pin(tablet, pim, "442907").status_code == 302


def test_right_digits_forget_the_wrong_tries(tablet, pim):
    for _ in range(4):
        try_pin(tablet, pim, "000000")
    assert try_pin(tablet, pim).status_code == 302
    assert Pin.objects.get(player=pim).wrong_tries == 0


@pytest.mark.parametrize("digits", ["12345", "1234567", "12345a", "١٢٣٤٥٦", ""])
def test_a_pin_has_six_digits(client, pim, guardian, digits):
    client.force_login(guardian)
    assert client.post(reverse("pin", args=[pim.pk]), {"digits": digits}).status_code == 400
    assert not Pin.objects.exists()


def test_digits_and_the_devices_secret_are_kept_hashed(tablet, settings):
    assert DIGITS not in Pin.objects.get(player__user__name="Pim Larkspur").digits_hash
    secret = tablet.cookies[devices.cookie_name()]
    assert secret.value not in Device.objects.get().secret_hash
    assert len(secret.value) >= 43  # 256 bits
    assert secret["httponly"]
    assert secret["samesite"] == "Lax"


def test_a_sign_in_by_pin_ends_after_twelve_hours_without_playing(tablet, pim):
    try_pin(tablet, pim)
    now = dt.datetime.now(dt.UTC)
    with time_machine.travel(now + dt.timedelta(hours=11, minutes=50)):
        assert tablet.get(reverse("today")).status_code == 200
    with time_machine.travel(now + dt.timedelta(hours=23)):
        assert tablet.get(reverse("today")).status_code == 200  # it was in use meanwhile
    with time_machine.travel(now + dt.timedelta(hours=36)):
        assert tablet.get(reverse("today")).status_code == 302


def test_who_is_of_age_or_teaches_too_has_no_pin(client, studio, pim, ottilie, guardian, tablet):
    Membership.objects.filter(pk=pim.pk).update(of_age=True)
    Membership.objects.create(user=ottilie.user, studio=people.studio("Far Quay"), role="teacher")
    assert try_pin(tablet, pim).status_code == 404
    assert try_pin(tablet, ottilie, "118834").status_code == 404
    client.force_login(people.teacher(studio).user)
    assert client.get(reverse("pin", args=[pim.pk])).status_code == 404


def test_ending_a_shared_device_signs_out_whoever_is_in_on_it(tablet, pim, guardian):
    try_pin(tablet, pim)
    phone = Client()
    phone.force_login(pim.user)
    grown_up = Client()
    grown_up.force_login(guardian)
    grown_up.post(reverse("end_device", args=[Device.objects.get().pk]))
    assert tablet.get(reverse("today")).status_code == 302
    assert tablet.get(reverse("whose_turn")).url == reverse("sign-in")
    assert phone.get(reverse("today")).status_code == 200
    assert Session.objects.filter(user=pim.user).count() == 1


def test_a_teacher_of_another_studio_ends_nothing_and_sets_nothing(client, tablet, pim):
    client.force_login(people.teacher(people.studio("Far Quay"), "Sela Brand").user)
    assert client.post(reverse("end_device", args=[Device.objects.get().pk])).status_code == 404
    assert client.post(reverse("pin", args=[pim.pk]), {"digits": "111222"}).status_code == 404
    assert client.post(reverse("devices"), {"name": "mine", "players": [str(pim.pk)]}).status_code == 404


def test_a_guardian_who_was_parted_from_a_child_opens_it_on_no_device_of_theirs_not_even_with_the_digits(
    tablet, studio, pim, ottilie
):
    try_pin(tablet, pim)
    assert tablet.get(reverse("today")).status_code == 200
    desk = Client()
    desk.force_login(people.teacher(studio).user)
    home = pim.guardians.get()
    assert desk.post(reverse("person", args=[pim.pk]), {"what": "part", "guardian_id": home.pk}).status_code == 302
    assert tablet.get(reverse("today")).status_code == 302  # whoever was in by PIN is out with the next click
    names = tablet.get(reverse("whose_turn")).content.decode()
    assert ("Pim Larkspur" in names, "Ottilie Fenn" in names) == (False, True)
    assert try_pin(tablet, pim).status_code == 404
    assert try_pin(tablet, ottilie, "118834").status_code == 302


def test_a_device_that_somebody_on_the_staff_shared_opens_nobody_once_they_have_left(studio, pim):
    substitute = people.teacher(studio, "Sela Brand")
    pins.set_pin(pim, DIGITS, by=substitute.user)
    theirs = Client()
    theirs.force_login(substitute.user)
    theirs.post(reverse("devices"), {"name": "their own phone", "players": [str(pim.pk)]})
    try_pin(theirs, pim)
    assert theirs.get(reverse("today")).status_code == 200
    Membership.objects.filter(pk=substitute.pk).update(ends_on=studio.today() - dt.timedelta(days=1))
    assert theirs.get(reverse("today")).status_code == 302
    assert "Pim" not in theirs.get(reverse("whose_turn")).content.decode()
    assert try_pin(theirs, pim).status_code == 404


def test_a_sign_in_by_pin_is_good_on_its_device_alone(tablet, pim):
    try_pin(tablet, pim)
    elsewhere = Client()
    elsewhere.cookies[settings.SESSION_COOKIE_NAME] = tablet.cookies[settings.SESSION_COOKIE_NAME].value
    assert elsewhere.get(reverse("today")).status_code == 302


def test_another_pin_ends_the_sign_ins_by_the_old_one(tablet, guardian, pim):
    with time_machine.travel(dt.datetime.now(dt.UTC) - dt.timedelta(minutes=5)):
        pins.set_pin(pim, DIGITS, by=guardian)
        try_pin(tablet, pim)
        assert tablet.get(reverse("today")).status_code == 200
    pins.set_pin(pim, "551708", by=guardian)
    assert tablet.get(reverse("today")).status_code == 302
    try_pin(tablet, pim, "551708")
    assert tablet.get(reverse("today")).status_code == 200
