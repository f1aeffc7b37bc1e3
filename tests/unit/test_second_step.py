"""After the passphrase six digits from a phone: set up, asked for, good once, and codes on paper for a lost phone."""

from __future__ import annotations

import datetime as dt
import re
from concurrent.futures import ThreadPoolExecutor
from urllib.parse import parse_qs, unquote, urlsplit

import pytest
import time_machine
from django.db import connection
from django.test import Client
from django.urls import reverse

from studio import invitations, one_time_codes, pins, second_step
from studio.invitations import Whom
from studio.models import Membership, RecoveryCode, SecondStep, Session, Studio, User
from tests import people
from tests.unit import belonging
from tests.unit.second_steps import digits, digits_of, in_as, passphrase_given, turned_on, type_in, whats, wrong

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

NEW = "otter-lamp-cedar-plum"


@pytest.fixture
def marisa(studio) -> User:
    return people.teacher(studio).user


@pytest.fixture
def with_one(marisa) -> list[str]:
    """Marisa's recovery codes."""
    return turned_on(marisa)


def test_it_is_set_up_with_the_phone_in_hand_and_the_passphrase(marisa):
    desk, elsewhere = in_as(marisa), in_as(marisa)
    page = desk.get(reverse("second_step")).content.decode()
    address = re.search(r'href="(otpauth://[^"]+)"', page)
    assert address is not None
    link = urlsplit(address[1].replace("&amp;", "&"))
    asked = parse_qs(link.query)
    assert (link.netloc, unquote(link.path), asked["issuer"]) == ("totp", "/Footing:marisa", ["Footing"])
    assert asked["secret"][0] in page
    seed = desk.session["second_step_seed"]
    for sent in ({"code": digits_of(seed), "old": "not-the-one"}, {"code": digits_of(seed, 5), "old": people.PASSWORD}):
        assert desk.post(reverse("second_step"), sent).status_code == 400
        assert not second_step.is_on(marisa)
    answer = desk.post(reverse("second_step"), {"code": digits_of(seed), "old": people.PASSWORD})
    assert len(re.findall(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", answer.content.decode())) == 10
    assert [client.get(reverse("studio_today")).status_code for client in (desk, elsewhere)] == [200, 302]
    assert whats()[-2:] == ["second_step_on", "signed_out"]
    assert "On since" in desk.get(reverse("my_doors")).content.decode()


def test_another_phone_takes_over_where_a_studio_asks_for_it_and_the_old_one_counts_until_then(marisa, with_one):
    Studio.objects.update(second_step_for_staff=True)
    desk, old = in_as(marisa), SecondStep.objects.get().seed
    anew = {"what": "anew", "code": wrong(marisa)}
    assert desk.post(reverse("second_step"), anew).status_code == 400
    assert "otpauth" not in desk.get(reverse("second_step")).content.decode()
    assert desk.post(reverse("second_step"), anew | {"code": digits(marisa)}).url == reverse("second_step")
    assert "otpauth" in desk.get(reverse("second_step")).content.decode()
    assert SecondStep.objects.get().seed == old
    seed = desk.session["second_step_seed"]
    answer = desk.post(reverse("second_step"), {"code": digits_of(seed), "old": people.PASSWORD})
    assert "recovery-codes" in answer.content.decode()
    assert SecondStep.objects.get().seed == seed != old
    assert not second_step.opens(marisa, with_one[0])
    assert "otpauth" not in desk.get(reverse("second_step")).content.decode()


def test_the_secret_is_in_no_row_and_another_sites_key_makes_another(marisa, with_one, settings):
    seed = SecondStep.objects.get().seed
    secret = second_step.secret_of(seed)
    kept = [secret.hex(), second_step.typed_secret(seed), *with_one, *(code.replace("-", "") for code in with_one)]
    assert belonging.found_in(kept) == {}
    assert len(secret) == one_time_codes.SECRET_BYTES
    settings.SECRET_KEY = "another site's key, as long as keys of sites have to be"
    assert second_step.secret_of(seed) != secret


def test_the_passphrase_alone_opens_nothing(with_one):
    client = passphrase_given(next=reverse("routines"))
    assert client.get(reverse("studio_today")).status_code == 302
    assert client.get(reverse("api-takes")).status_code == 403
    assert "signed_in" not in whats()
    assert not Session.objects.exclude(user=None).exists()


def test_the_digits_open_and_lead_to_where_one_was_going(marisa, with_one):
    client = passphrase_given(next=reverse("routines"))
    code = digits(marisa)
    assert type_in(client, f"{code[:3]} {code[3:]}").url == reverse("routines")
    assert client.get(reverse("studio_today")).status_code == 200
    assert whats()[-1] == "signed_in"


def test_a_code_that_was_used_opens_nothing_more(marisa, with_one):
    code = digits(marisa)
    assert type_in(passphrase_given(), code).status_code == 302
    assert type_in(passphrase_given(), code).status_code == 400
    assert type_in(passphrase_given(), digits(marisa, 1)).status_code == 302


@pytest.mark.django_db(transaction=True)
def test_of_many_who_type_the_same_code_at_once_one_comes_in(marisa, with_one):
    code = digits(marisa)

    def opens(_turn: int) -> str:
        try:
            return second_step.opens(marisa, code)
        finally:
            connection.close()

    with ThreadPoolExecutor(4) as pool:
        assert sorted(pool.map(opens, range(4))) == ["", "", "", second_step.BY_DIGITS]


def test_five_wrong_codes_shut_the_door_for_a_while_even_to_the_right_one(marisa, with_one):
    client = passphrase_given()
    statuses = [type_in(client, wrong(marisa)).status_code for _ in range(5)]
    assert statuses == [400] * 4 + [429]
    answer = type_in(client, digits(marisa))
    assert answer.status_code == 429
    assert 3500 < int(answer.headers["Retry-After"]) <= 3600
    assert "somebody knows your passphrase" in answer.content.decode()
    assert whats()[-1] == "second_step_shut"
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(minutes=61)):
        assert type_in(passphrase_given(), digits(marisa)).status_code == 302


def test_others_are_not_shut_out_with_somebody(studio, marisa, with_one):
    other = people.teacher(studio, "Sela Brand").user
    turned_on(other)
    client = passphrase_given()
    for _ in range(5):
        type_in(client, wrong(marisa))
    assert type_in(passphrase_given("sela"), digits(other)).status_code == 302


def test_the_page_of_the_second_step_stands_open_for_ten_minutes(marisa, with_one):
    client = passphrase_given()
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(minutes=11)):
        assert type_in(client, digits(marisa)).url == reverse("sign-in")
        assert client.get(reverse("studio_today")).status_code == 302


def test_a_passphrase_that_changed_meanwhile_ends_the_half_done_sign_in(marisa, with_one):
    client = passphrase_given()
    marisa.set_password(NEW)
    marisa.save()
    assert type_in(client, digits(marisa)).url == reverse("sign-in")


def test_whoever_has_no_passphrase_gets_to_no_second_step(marisa, with_one):
    assert type_in(Client(), digits(marisa)).url == reverse("sign-in")


def test_a_recovery_code_stands_in_once_and_is_written_down(marisa, with_one):
    assert type_in(passphrase_given(), with_one[3].lower()).status_code == 302
    assert whats()[-2:] == ["recovery_code", "signed_in"]
    assert RecoveryCode.objects.count() == 9
    assert type_in(passphrase_given(), with_one[3]).status_code == 400


def test_nobody_comes_in_with_anothers_recovery_code(studio, with_one):
    turned_on(people.teacher(studio, "Sela Brand").user)
    assert type_in(passphrase_given("sela"), with_one[0]).status_code == 400
    assert RecoveryCode.objects.count() == 20


def test_new_recovery_codes_take_a_code_of_now_and_end_the_old_ones(marisa, with_one):
    desk = in_as(marisa)
    address = reverse("second_step")
    assert desk.post(address, {"what": "codes", "code": wrong(marisa)}).status_code == 400
    page = desk.post(address, {"what": "codes", "code": digits(marisa)}).content.decode()
    fresh = re.findall(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", page)
    assert len(fresh) == RecoveryCode.objects.count() == 10
    assert type_in(passphrase_given(), with_one[0]).status_code == 400
    assert type_in(passphrase_given(), fresh[0]).status_code == 302


def test_a_phone_that_lies_open_turns_nothing_off(marisa, with_one):
    desk = in_as(marisa)
    assert desk.post(reverse("second_step"), {"what": "off", "code": wrong(marisa)}).status_code == 400
    assert second_step.is_on(marisa)
    assert desk.post(reverse("second_step"), {"what": "off", "code": digits(marisa)}).status_code == 302
    assert not second_step.is_on(marisa)
    assert not RecoveryCode.objects.exists()
    assert whats()[-1] == "second_step_off"


def test_a_page_to_set_it_up_that_stayed_open_in_another_tab_turns_nothing_off(marisa, with_one):
    desk = in_as(marisa)
    for what in ({}, {"what": "else"}):
        answer = desk.post(
            reverse("second_step"), {"code": digits(marisa), "old": people.PASSWORD, **what}, follow=True
        )
        assert "Your second step is on" in answer.content.decode()
    assert second_step.is_on(marisa)
    assert second_step.opens(marisa, digits(marisa))


def test_a_code_for_whoever_lost_the_way_in_stops_at_the_second_step(studio, marisa):
    player = people.horn(studio).player
    Membership.objects.filter(pk=player.pk).update(of_age=True)
    turned_on(player.user)
    whom = Whom(role=Membership.Role.STUDENT, member=player)
    _row, code = invitations.invite(whom, studio=studio, by=marisa)
    client = Client()
    client.post(reverse("join"), {"code": code})
    assert client.post(reverse("join_as"), {"passphrase": NEW}).url == reverse("sign_in_code")
    assert client.get(reverse("today")).status_code == 302
    player.user.refresh_from_db()
    assert type_in(client, digits(player.user)).url == reverse("home")


def test_support_comes_in_through_the_same_door(marisa, with_one):
    User.objects.filter(pk=marisa.pk).update(is_staff=True, is_superuser=True)
    client = Client()
    assert client.post("/support/login/", {"username": "marisa", "password": people.PASSWORD}).status_code == 302
    assert client.get("/support/").status_code == 302
    client = passphrase_given(next="/support/")
    assert client.get("/support/").status_code == 302
    assert type_in(client, digits(marisa)).url == "/support/"
    assert client.get("/support/").status_code == 200


def test_a_child_has_none_and_a_pin_opens_nobody_who_has_one(studio):
    pim = people.horn(studio).player
    child = in_as(pim.user)
    assert child.get(reverse("second_step")).status_code == 404
    assert reverse("second_step") not in child.get(reverse("my_doors")).content.decode()
    turned_on(pim.user)  # of age then, and not any more
    assert not pins.players().filter(pk=pim.pk).exists()


def test_wrong_passphrases_on_ones_own_pages_are_counted_too(marisa):
    desk = in_as(marisa)
    change = {"what": "passphrase", "old": "not-the-one", "new": NEW}
    for _ in range(5):
        assert desk.post(reverse("my_doors"), change).status_code == 400
    answer = desk.post(reverse("my_doors"), change | {"old": people.PASSWORD})
    assert answer.status_code == 400
    assert "Too many were wrong" in answer.content.decode()
