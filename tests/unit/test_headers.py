"""What every answer carries, and what a stranger who guesses passwords meets."""

from __future__ import annotations

import pytest
from django.test import Client

from studio.models import LogRow
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


def test_a_door_that_was_guessed_at_is_written_down_once_and_a_name_that_nobody_has_is_not(client: Client) -> None:
    member = people.teacher(people.studio())
    for _ in range(8):
        guess(client, "198.51.100.1")
        client.post("/sign-in/", {"username": "nobody", "password": "x"}, REMOTE_ADDR="198.51.100.1")
    (row,) = LogRow.objects.all()
    assert (row.what, row.about_id, row.who_id, row.address) == ("guessed_at", member.pk, None, "198.51.100.1")


def test_fifty_wrong_guesses_an_hour_close_the_door_to_an_address_whatever_the_names(client: Client) -> None:
    people.teacher(people.studio())
    for n in range(50):
        client.post("/sign-in/", {"username": f"somebody{n}", "password": "x"}, REMOTE_ADDR="198.51.100.1")
    answer = client.post("/sign-in/", {"username": "marisa", "password": people.PASSWORD}, REMOTE_ADDR="198.51.100.1")
    assert answer.status_code == 429
    assert 0 < int(answer.headers["Retry-After"]) <= 3600
    assert guess(client, "203.0.113.9", people.PASSWORD) == 302


def test_a_household_of_ipv6_addresses_counts_as_one_line_and_its_neighbour_as_another(client: Client) -> None:
    people.teacher(people.studio())
    assert [guess(client, f"2001:db8:1:2::{n}") for n in range(1, 7)][-1] == 429
    assert guess(client, "2001:db8:1:2:ffff::9", people.PASSWORD) == 429
    assert guess(client, "2001:db8:1:3::1", people.PASSWORD) == 302
    stranger = Client()
    for n in range(50):
        form = {"username": f"somebody{n}", "password": "x"}
        stranger.post("/sign-in/", form, REMOTE_ADDR=f"2001:db8:1:2::{n:x}")
    assert stranger.post("/sign-in/", {}, REMOTE_ADDR="2001:db8:1:2::abcd").status_code == 429
    assert stranger.post("/sign-in/", {}, REMOTE_ADDR="2001:db8:1:3::abcd").status_code == 200


def test_codes_are_tried_by_the_line_too(client: Client) -> None:
    tries = [client.post("/join/", {"code": "0" * 10}, REMOTE_ADDR=f"2001:db8:1:2::{n}") for n in range(11)]
    assert [answer.status_code for answer in tries] == [400] * 10 + [429]
    mapped = client.post("/join/", {"code": "0" * 10}, REMOTE_ADDR="::ffff:198.51.100.1")
    assert mapped.status_code == 400


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


def test_whatever_answers_says_what_a_browser_may_do_with_it(client: Client, settings) -> None:
    """Pages, redirects, refusals, files, a strange host, a line that is not private: none comes bare."""
    asked = [
        (client.get("/sign-in/"), 200),
        (client.get("/studio/"), 302),
        (client.get("/nowhere/"), 404),
        (client.delete("/sign-in/"), 405),
        (Client(enforce_csrf_checks=True).post("/sign-in/"), 403),
        (client.head("/static/studio/css/base.css"), 200),
        (client.get("/api/takes/"), 403),
        (client.get("/sign-in/", headers={"Host": "elsewhere.example"}), 400),
    ]
    settings.SECURE_SSL_REDIRECT = True
    asked.append((Client().get("/sign-in/"), 301))
    asked.append((Client().get("/sign-in/", headers={"Host": "elsewhere.example"}), 400))
    for answer, status in asked:
        assert answer.status_code == status
        assert "default-src 'none'" in answer.headers["Content-Security-Policy"], answer
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert "microphone=(self)" in answer.headers["Permissions-Policy"]
        assert "Access-Control-Allow-Origin" not in answer.headers


def test_a_broken_page_gives_a_number_and_nothing_of_what_broke(client: Client, monkeypatch, caplog) -> None:
    def broken(*_args, **_kwargs):
        raise RuntimeError("marmalade /srv/footing SELECT")

    monkeypatch.setattr("studio.views.join.render", broken)
    client.raise_request_exception = False
    answer = client.get("/join/?marmalade=1")
    page = answer.content.decode()
    assert answer.status_code == 500
    assert f"<code>{answer.headers['X-Request-ID']}</code>" in page
    assert not [word for word in ("marmalade", "RuntimeError", "Traceback", "/srv") if word in page]
