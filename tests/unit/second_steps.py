"""Somebody with a second step, the phone that shows its digits, and the doors where they are typed."""

from __future__ import annotations

import datetime as dt
import time

import time_machine
from django.test import Client
from django.urls import reverse

from studio import one_time_codes, second_step
from studio.models import LogRow, SecondStep, Studio, User
from tests import people


def turned_on(user: User) -> list[str]:
    """Set up a while ago, so that the code of now is one that was never used."""
    seed = second_step.new_seed()
    with time_machine.travel(dt.datetime.now(dt.UTC) - dt.timedelta(minutes=5), tick=False):
        codes = second_step.turn_on(user, seed, digits_of(seed))
    assert codes is not None
    return codes


def digits_of(seed: str, off: int = 0) -> str:
    return one_time_codes.at(second_step.secret_of(seed), int(time.time() // 30) + off)


def digits(user: User, off: int = 0) -> str:
    """What that person's phone shows."""
    return digits_of(SecondStep.objects.get(user=user).seed, off)


def wrong(user: User) -> str:
    right = {digits(user, off) for off in (-2, -1, 0, 1, 2)}
    return next(f"{number:06d}" for number in range(10) if f"{number:06d}" not in right)


def in_as(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def asks_nothing_of_students_and_families(studio: Studio) -> None:
    horn = people.horn(studio)
    home = people.person("Jo Larkspur", studio, people.Role.GUARDIAN)
    home.wards.add(horn.player)
    assert in_as(horn.player.user).get(reverse("today")).status_code == 200
    assert in_as(home.user).get(reverse("home_month", args=[horn.player_id])).status_code == 200


def passphrase_given(username: str = "marisa", **more) -> Client:
    client = Client()
    answer = client.post(reverse("sign-in"), {"username": username, "password": people.PASSWORD, **more})
    assert answer.url == reverse("sign_in_code")
    return client


def type_in(client: Client, code: str):
    return client.post(reverse("sign_in_code"), {"code": code})


def whats() -> list[str]:
    return list(LogRow.objects.order_by("pk").values_list("what", flat=True))
