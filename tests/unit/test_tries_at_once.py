"""Guesses that come at once, each looked at before the others are counted, learn no more than one after another.

Looking at one takes a while on purpose. Meanwhile, here, as many wrong ones come in as are looked at in an hour.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from django.contrib.auth.base_user import AbstractBaseUser
from django.test import Client
from django.urls import reverse

from studio import codes, invitations, throttle
from studio.invitations import Whom
from studio.models import Membership, Session, User
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

NEW = "otter-lamp-cedar-plum"


@pytest.fixture
def pim(studio) -> User:
    return people.horn(studio).player.user


def meanwhile(monkeypatch: pytest.MonkeyPatch, of: Any, name: str, others: Callable[[], None]) -> None:
    """``others`` come in while the first try is looked at by ``of.name``."""
    look, came = getattr(of, name), []

    def looked_at(*given: Any, **named: Any) -> Any:
        if not came:
            came.append(True)
            others()
        return look(*given, **named)

    monkeypatch.setattr(of, name, looked_at)


def sign_in(passphrase: str, name: str = "pim") -> int:
    return Client().post(reverse("sign-in"), {"username": name, "password": passphrase}).status_code


@pytest.mark.parametrize("is_right", [True, False])
def test_a_code(studio, teacher, monkeypatch, is_right):
    _made, code = invitations.invite(Whom(role=Membership.Role.STUDENT), studio=studio, by=teacher)

    def typed(code: str) -> int:
        return Client().post(reverse("join"), {"code": code}).status_code

    others = []
    meanwhile(monkeypatch, codes, "hashed", lambda: others.extend(typed("BBBBB-BBBBB") for _ in range(10)))
    assert typed(code if is_right else "CCCCC-CCCCC") == 429
    assert others == [400] * 10


@pytest.mark.parametrize("is_right", [True, False])
def test_a_passphrase_from_one_address_whatever_the_names(pim, monkeypatch, is_right):
    others = []
    meanwhile(
        monkeypatch,
        AbstractBaseUser,
        "check_password",
        lambda: others.extend(sign_in("not-the-one", f"somebody-{one}") for one in range(50)),
    )
    assert sign_in(people.PASSWORD if is_right else "not-the-one") == 429
    assert set(others) == {200}
    assert not Session.objects.filter(user=pim).exists()


def test_a_passphrase_of_one_name(pim, monkeypatch):
    others = []
    meanwhile(
        monkeypatch,
        AbstractBaseUser,
        "check_password",
        lambda: others.extend(sign_in("not-the-one") for _ in range(5)),
    )
    assert sign_in(people.PASSWORD) == 429
    assert others == [200] * 4 + [429]
    assert not Session.objects.filter(user=pim).exists()


@pytest.mark.parametrize("is_right", [True, False])
def test_the_passphrase_that_a_change_asks_for(pim, monkeypatch, is_right):
    client = Client()
    client.force_login(pim)
    meanwhile(
        monkeypatch,
        AbstractBaseUser,
        "check_password",
        lambda: [throttle.note(str(pim.pk), throttle.PASSPHRASE) for _ in range(5)],
    )
    sent = {"what": "passphrase", "old": people.PASSWORD if is_right else "not-the-one", "new": NEW}
    assert "Too many were wrong" in client.post(reverse("my_doors"), sent).content.decode()
    pim.refresh_from_db()
    assert pim.check_password(people.PASSWORD)


def test_right_ones_that_come_at_once_are_all_told(studio, teacher, monkeypatch):
    """A whole class, through one school's address, after nine that were typed wrong."""
    made = [invitations.invite(Whom(role=Membership.Role.STUDENT), studio=studio, by=teacher)[1] for _ in range(12)]
    for _ in range(9):
        throttle.note("127.0.0.1")
    assert [Client().post(reverse("join"), {"code": code}).status_code for code in made] == [302] * 12
