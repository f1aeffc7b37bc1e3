"""What every answer carries, and what a stranger who guesses passwords meets."""

from __future__ import annotations

import pytest
from django.test import Client

from tests import people

pytestmark = pytest.mark.django_db


def test_a_page_may_use_the_microphone_and_nothing_of_elsewhere(client: Client) -> None:
    headers = client.get("/sign-in/").headers
    assert "default-src 'none'" in headers["Content-Security-Policy"]
    assert "unsafe" not in headers["Content-Security-Policy"]
    assert headers["Permissions-Policy"].startswith("microphone=(self), camera=()")
    assert headers["Referrer-Policy"] == "same-origin"
    assert headers["X-Content-Type-Options"] == "nosniff"
    assert headers["X-Frame-Options"] == "DENY"


def test_no_page_stays_in_a_browser_that_somebody_else_uses_next(client: Client) -> None:
    for path in ("/sign-in/", "/api/", "/healthz", "/nowhere/"):
        kept = client.get(path).headers["Cache-Control"]
        assert "no-store" in kept
        assert "private" in kept


def guess(client: Client, address: str, password: str = "not the passphrase") -> int:
    form = {"username": "marisa", "password": password}
    return client.post("/sign-in/", form, REMOTE_ADDR=address).status_code


def test_five_wrong_guesses_close_the_door_to_the_guesser_and_to_nobody_else(client: Client) -> None:
    people.teacher(people.studio())
    assert [guess(client, "198.51.100.1") for _ in range(6)][-1] == 429
    assert guess(client, "198.51.100.1", people.PASSWORD) == 429
    assert guess(client, "203.0.113.9", people.PASSWORD) == 302


def test_fifty_wrong_guesses_an_hour_close_the_door_to_an_address_whatever_the_names(client: Client) -> None:
    people.teacher(people.studio())
    for n in range(50):
        client.post("/sign-in/", {"username": f"somebody{n}", "password": "x"}, REMOTE_ADDR="198.51.100.1")
    answer = client.post("/sign-in/", {"username": "marisa", "password": people.PASSWORD}, REMOTE_ADDR="198.51.100.1")
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 3600
    assert guess(client, "203.0.113.9", people.PASSWORD) == 302


def test_a_form_sent_off_half_empty_is_no_guess(client: Client) -> None:
    people.teacher(people.studio())
    for sent in ({}, {"username": "marisa"}, {"password": "x"}):
        for _ in range(17):
            client.post("/sign-in/", sent, REMOTE_ADDR="198.51.100.1")
    assert guess(client, "198.51.100.1", people.PASSWORD) == 302


def test_right_sign_ins_are_not_counted_a_whole_class_comes_from_one_address(client: Client) -> None:
    people.teacher(people.studio())
    for _ in range(51):
        assert guess(Client(), "198.51.100.1", people.PASSWORD) == 302


def test_a_guesser_is_told_when_to_come_back(client: Client) -> None:
    people.teacher(people.studio())
    for _ in range(5):
        guess(client, "198.51.100.1")
    answer = client.post("/sign-in/", {"username": "marisa", "password": "x"}, REMOTE_ADDR="198.51.100.1")
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 900
    assert "quarter of an hour" in answer.content.decode()
