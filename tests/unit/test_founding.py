"""A new studio, its owner's way in, and what several studios on one site ask of those who work in them."""

from __future__ import annotations

import re
from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse

from studio import access_log
from studio.models import Invitation, Membership, Studio, User
from tests import people
from tests.unit.second_steps import asks_nothing_of_students_and_families, in_as, turned_on

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


def told(*words: str) -> str:
    said = StringIO()
    call_command("new_studio", *words, stdout=said)
    return said.getvalue()


def code_in(words: str) -> str:
    found = re.search(r"types (\w{5}-\w{5}) ", words)
    assert found, words
    return found[1]


def come_in(code: str) -> Client:
    client = Client()
    client.post(reverse("join"), {"code": code})
    client.post(reverse("join_as"), {"name": "Ines Calder", "passphrase": people.PASSWORD})
    return client


def test_the_owner_of_a_new_studio_comes_in_with_the_code_that_was_printed():
    said = told("Saltmarsh Studio", "--owner", "Ines Calder", "--time-zone", "Europe/Lisbon")
    client = come_in(code_in(said))
    place = Membership.objects.get()
    assert (place.role, place.studio.name, place.studio.time_zone) == ("owner", "Saltmarsh Studio", "Europe/Lisbon")
    assert client.get(reverse("house_rules")).status_code == 200
    assert "second step" not in said


def test_the_code_is_good_once_and_for_a_studio_without_an_owner():
    code = code_in(told("Saltmarsh Studio", "--owner", "Ines Calder"))
    come_in(code)
    again = Client().post(reverse("join"), {"code": code})
    assert again.status_code == 400
    with pytest.raises(CommandError, match="it has an owner"):
        told("Saltmarsh Studio", "--owner", "Ines Calder")
    assert Studio.objects.count() == 1


def test_a_code_that_was_lost_is_replaced_and_opens_nothing_any_more():
    lost = code_in(told("Saltmarsh Studio", "--owner", "Ines Calder"))
    code = code_in(told("Saltmarsh Studio", "--owner", "Ines Calder"))
    assert Client().post(reverse("join"), {"code": lost}).status_code == 400
    come_in(code)
    assert Membership.objects.get().role == "owner"


def test_with_another_code_the_studio_keeps_its_clock_unless_another_is_named():
    def zone(*more: str) -> str:
        told("Saltmarsh Studio", "--owner", "Ines Calder", *more)
        return Studio.objects.get().time_zone

    asked = ((), ("--time-zone", "Europe/Lisbon"), (), ("--time-zone", "Europe/Paris"))
    assert [zone(*more) for more in asked] == ["Europe/London", "Europe/Lisbon", "Europe/Lisbon", "Europe/Paris"]


def test_the_first_page_says_once_under_which_name_one_signs_in():
    client = come_in(code_in(told("Saltmarsh Studio", "--owner", "Ines Calder")))
    first, later = (client.get(reverse("home"), follow=True).content.decode() for _ in range(2))
    line = 'you sign in as <b class="ltr">ines-calder</b>'
    assert line in first
    assert line not in later


def test_whoever_is_signed_in_comes_into_the_new_studio_and_not_back_into_the_old_one(studio):
    marisa = people.teacher(studio).user
    turned_on(marisa)
    desk = in_as(marisa)
    desk.post(reverse("join"), {"code": code_in(told("Far Quay", "--owner", "Marisa Oakhanger"))})
    asked = desk.get(reverse("join_as")).content.decode()
    assert asked.count("brass") == 1
    assert asked.index("brass") < asked.index("Go on as Marisa") < asked.index("Come in")  # not a second account
    page = desk.post(reverse("join_as"), {"as": "me"}, follow=True).content.decode()
    assert '<strong class="studio-name">Far Quay</strong>' in page
    assert "Your other studios" in desk.get(reverse("people")).content.decode()


def test_a_studio_without_students_has_a_next_step_on_every_page():
    access_log.came_from.set(None)  # as in a process that has answered no request
    client = come_in(code_in(told("Saltmarsh Studio", "--owner", "Ines Calder")))
    assert reverse("add_student") in client.get(reverse("devices")).content.decode()
    assert "No tone to hear yet" in client.get(reverse("ear")).content.decode()
    assert "the site’s own computer made a code" in client.get(reverse("log")).content.decode()


def test_an_owners_code_ends_when_somebody_else_owns_the_studio_meanwhile():
    code = code_in(told("Saltmarsh Studio", "--owner", "Ines Calder"))
    people.person("Orla Keel", Studio.objects.get(), Membership.Role.OWNER)
    assert Client().post(reverse("join"), {"code": code}).status_code == 400
    assert Invitation.objects.get().used_at is None


@pytest.mark.parametrize(
    ("words", "reason"),
    [
        (("Saltmarsh", "--owner", "Ines", "--time-zone", "Saltmarsh"), "no time zone"),
        (("  ", "--owner", "Ines"), "cannot be blank"),
        (("S" * 81, "--owner", "Ines"), "At most 80"),
        (("Saltmarsh", "--owner", " "), "cannot be blank"),
        (("Saltmarsh", "--owner", "I" * 81), "At most 80"),
    ],
)
def test_what_cannot_be_kept_is_refused_in_words_and_nothing_is_kept(words, reason):
    with pytest.raises(CommandError, match=reason):
        told(*words)
    assert not Studio.objects.exists()


def test_the_sign_in_page_of_an_empty_site_says_how_to_begin():
    address = reverse("sign-in")
    empty = Client().get(address).content.decode()
    assert "new_studio" in empty
    assert "Your teacher gave you" not in empty
    people.teacher(people.studio())
    page = Client().get(address).content.decode()
    assert "new_studio" not in page
    assert reverse("join") in page  # whoever was given a code and typed the site’s address goes on from here


class TestAmongOthers:
    """OWASP ASVS 5.0, 6.3.3: more than one factor, where the staff of one studio are strangers to another's."""

    @pytest.fixture
    def marisa(self, studio) -> User:
        return people.person("Marisa Oakhanger", studio, Membership.Role.OWNER).user

    @pytest.fixture(autouse=True)
    def another(self, marisa) -> Studio:
        return Studio.objects.create(name="Far Quay")

    def test_staff_see_nothing_until_they_have_a_second_step(self, studio, marisa):
        horn = people.horn(studio)
        desk = in_as(marisa)
        for name, key in (("studio_today", None), ("student", horn.pk), ("house_rules", None)):
            address = reverse(name, args=[key] if key else [])
            assert desk.get(address, follow=True).redirect_chain[-1][0] == reverse("second_step"), address
        assert desk.get(reverse("api-standing", args=[horn.pk])).status_code == 404
        turned_on(marisa)
        assert desk.get(reverse("student", args=[horn.pk])).status_code == 200

    def test_students_and_families_are_asked_for_nothing(self, studio):
        asks_nothing_of_students_and_families(studio)

    def test_no_owner_can_choose_otherwise(self, studio, marisa):
        turned_on(marisa)
        desk = in_as(marisa)
        page = desk.get(reverse("house_rules")).content.decode()
        assert "several studios" in page
        assert "second_step_for_staff" not in page
        rules = {"name": "Lantern Quay", "time_zone": "Europe/Lisbon", "a4_hz": "442", "keep_takes_days": "60"}
        assert desk.post(reverse("house_rules"), rules).status_code == 302
        studio.refresh_from_db()
        assert (studio.name, studio.second_step_for_staff) == ("Lantern Quay", False)

    def test_a_studio_that_is_alone_again_asks_for_nothing(self, studio, marisa, another):
        desk = in_as(marisa)
        another.delete()
        assert desk.get(reverse("studio_today")).status_code == 200

    def test_whoever_makes_another_studio_is_told(self):
        assert "sign in with a second step" in told("Saltmarsh Studio", "--owner", "Ines Calder")
