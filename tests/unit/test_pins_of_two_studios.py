"""A child who plays in two studios: who teaches in one of them opens with a PIN nothing of the other."""

from __future__ import annotations

import datetime as dt

import pytest
from django.test import Client
from django.urls import reverse

from studio import devices, pins
from studio.models import Device, Membership, Pin
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

DIGITS = "271828"
Role = Membership.Role


@pytest.fixture
def here(studio):
    return people.horn(studio).player


def also_elsewhere(here: Membership) -> Membership:
    return Membership.objects.create(
        user=here.user, studio=people.studio("Saltmarsh Studio"), role=Role.STUDENT, joined_on=dt.date(2025, 9, 1)
    )


def signed_in(user) -> Client:
    client = Client()
    client.force_login(user)
    return client


def turned_to(client: Client, player: Membership) -> int:
    return client.post(reverse("turn_of", args=[player.pk]), {"digits": DIGITS}).status_code


def test_a_teacher_sets_no_pin_and_enrols_no_device_for_a_child_who_plays_elsewhere_too(here, teacher):
    browser = signed_in(teacher)
    assert browser.get(reverse("pin", args=[here.pk])).status_code == 200
    also_elsewhere(here)
    teacher.refresh_from_db()
    assert browser.post(reverse("pin", args=[here.pk]), {"digits": DIGITS}).status_code == 404
    browser.post(reverse("devices"), {"name": "studio", "players": [here.pk]})
    assert not Device.objects.exists()
    assert not Pin.objects.exists()


def test_a_studios_device_opens_no_child_who_plays_elsewhere_by_now(here, teacher):
    pins.set_pin(here, DIGITS, by=teacher)
    browser = Client()
    device, secret = devices.enrol(studio=here.studio, by=teacher, name="studio", players=[here])
    browser.cookies[devices.cookie_name()] = secret
    assert list(devices.players(device)) == [here]
    also_elsewhere(here)
    assert turned_to(browser, here) == 404
    assert list(devices.players(device)) == []


def test_at_home_a_child_of_two_studios_plays_on_the_familys_device(here):
    home = people.person("Edda Larkspur", here.studio, Role.GUARDIAN)
    home.wards.add(here)
    also_elsewhere(here)
    browser = signed_in(home.user)
    assert browser.post(reverse("pin", args=[here.pk]), {"digits": DIGITS}).status_code == 302
    assert browser.post(reverse("devices"), {"name": "kitchen", "players": [here.pk]}).status_code == 302
    assert turned_to(browser, here) == 302
