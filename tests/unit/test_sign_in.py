"""Signing in and out, and the pages that stand where another can't be shown."""

from __future__ import annotations

import pytest
from django.test import Client
from django.urls import reverse

from studio import enrolment, passphrases
from studio.models import Membership, User
from tests import people

pytestmark = pytest.mark.django_db


@pytest.fixture
def pim():
    return people.horn(people.studio()).player.user


def sign_in(client, username, password, **more):
    return client.post(reverse("sign-in"), {"username": username, "password": password, **more})


def test_a_stranger_is_asked_to_sign_in_and_then_brought_where_they_were_going(client, pim):
    answer = client.get(reverse("studio_today"))
    assert answer.status_code == 302
    assert answer.url == f"{reverse('sign-in')}?next={reverse('studio_today')}"
    answer = sign_in(client, pim.username, people.PASSWORD, next=reverse("studio_today"))
    assert answer.url == reverse("studio_today")


def test_nobody_is_sent_on_to_another_site(client, pim):
    answer = sign_in(client, pim.username, people.PASSWORD, next="https://elsewhere.example/")
    assert answer.url == reverse("home")


def test_a_phone_that_begins_with_a_capital_does_no_harm(client, pim):
    assert sign_in(client, " Pim ", people.PASSWORD).status_code == 302


def test_a_wrong_passphrase_says_what_to_do_and_not_which_part_was_wrong(client, pim):
    for username in ("pim", "nobody"):
        answer = sign_in(client, username, "not-the-one")
        assert answer.status_code == 200
        assert "don’t go together" in answer.content.decode()


def test_after_five_wrong_tries_there_is_a_wait_even_with_the_right_one(client, pim):
    for _ in range(5):
        answer = sign_in(client, "pim", "not-the-one")
    assert answer.status_code == 429
    assert "Wait a quarter of an hour" in answer.content.decode()
    assert sign_in(client, "pim", people.PASSWORD).status_code == 429


def test_signing_out_needs_a_form_so_that_no_foreign_page_can_do_it(client, pim):
    client.force_login(pim)
    assert client.get(reverse("sign-out")).status_code == 405
    assert client.post(reverse("sign-out")).url == reverse("sign-in")
    assert client.get(reverse("today")).status_code == 302


def test_a_form_without_its_secret_gets_words_of_ours(pim):
    answer = sign_in(Client(enforce_csrf_checks=True), "pim", people.PASSWORD)
    assert answer.status_code == 403
    assert "This form stood open too long." in answer.content.decode()


def test_what_is_not_there_gets_words_of_ours(client):
    answer = client.get("/nothing/here/")
    assert answer.status_code == 404
    assert "There is nothing at this address." in answer.content.decode()


def test_our_own_fault_says_so(client, pim, monkeypatch):
    def breaks(*_args, **_kwargs):
        raise RuntimeError("a fault in the program")

    monkeypatch.setattr("assignments.views.teacher.studio_query.overview", breaks)
    client.raise_request_exception = False
    client.force_login(people.teacher(people.studio()).user)
    answer = client.get(reverse("studio_today"))
    assert answer.status_code == 500
    assert "Our fault, not yours." in answer.content.decode()
    assert "RuntimeError" not in answer.content.decode()


def test_a_new_passphrase_ends_the_old_one_and_every_session_with_it(client, pim):
    client.force_login(pim)
    slip = enrolment.change_passphrase(pim.memberships.get(), by=pim)
    assert client.get(reverse("today")).status_code == 302
    assert sign_in(client, "pim", people.PASSWORD).status_code == 200
    assert sign_in(client, slip.username, slip.passphrase).status_code == 302


def test_passphrases_are_four_words_of_a_list_of_256():
    assert len(set(passphrases.words())) == 256
    made = {passphrases.make() for _ in range(50)}
    assert len(made) == 50
    assert all(set(one.split("-")) <= set(passphrases.words()) and len(one.split("-")) == 4 for one in made)


def test_two_students_of_one_name_get_two_names_for_signing_in():
    studio = people.studio()
    names = [
        enrolment.enrol(studio=studio, role=Membership.Role.STUDENT, name="Zoë Ashdown")[0].user.username
        for _ in range(3)
    ]
    assert names == ["zoe-ashdown", "zoe-ashdown-2", "zoe-ashdown-3"]


def test_a_name_in_another_script_gets_a_name_that_every_keyboard_has():
    made, _slip = enrolment.enrol(studio=people.studio(), role=Membership.Role.STUDENT, name="名前")
    assert made.user.username == "player"
    assert User.objects.get(username="player").name == "名前"
