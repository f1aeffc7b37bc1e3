"""A second step and the studio: who lets somebody in again, and a studio that asks its staff for one."""

from __future__ import annotations

from io import StringIO

import pytest
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse

from studio import invitations, second_step
from studio.models import LogRow, Membership, Studio, User
from tests import people
from tests.unit.second_steps import asks_nothing_of_students_and_families, digits, in_as, turned_on, whats
from tests.unit.test_invitations import ALTO

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def marisa(studio) -> User:
    return people.teacher(studio).user


@pytest.fixture
def boss(studio) -> Client:
    return in_as(people.person("Orla Keel", studio, Membership.Role.OWNER).user)


@pytest.fixture
def with_one(marisa) -> list[str]:
    """Marisa's recovery codes."""
    return turned_on(marisa)


def test_the_owner_lets_a_teacher_in_again_who_lost_phone_and_codes(studio, marisa, with_one, boss):
    address = reverse("colleague", args=[marisa.memberships.get().pk])
    assert "Turn their second step off" in boss.get(address).content.decode()
    boss.post(address, {"what": "second_step"})
    assert not second_step.is_on(marisa)
    row = LogRow.objects.get(what="second_step_off")
    assert (row.who_id, row.about_id) == (User.objects.get(username="orla").pk, marisa.memberships.get().pk)
    answer = Client().post(reverse("sign-in"), {"username": "marisa", "password": people.PASSWORD})
    assert answer.url == reverse("home")


def test_an_owner_lets_in_nobody_who_works_elsewhere_too(marisa, with_one, boss):
    Membership.objects.create(user=marisa, studio=people.studio("Far Quay"), role="teacher")
    address = reverse("colleague", args=[marisa.memberships.get(studio__name="Lantern Quay Studio").pk])
    assert "Turn their second step off" not in boss.get(address).content.decode()
    for what in ("second_step", "passphrase", "sign_out"):
        assert boss.post(address, {"what": what}).status_code == 404
    assert second_step.is_on(marisa)


def test_a_teacher_lets_in_a_grown_up_student_and_no_colleague(studio, marisa):
    player = people.horn(studio).player
    Membership.objects.filter(pk=player.pk).update(of_age=True)
    sela = people.teacher(studio, "Sela Brand")
    for user in (player.user, sela.user):
        turned_on(user)
    desk = in_as(marisa)
    assert desk.post(reverse("person", args=[player.pk]), {"what": "second_step"}).status_code == 302
    assert desk.post(reverse("colleague", args=[sela.pk]), {"what": "second_step"}).status_code == 404
    assert [second_step.is_on(user) for user in (player.user, sela.user)] == [False, True]


def test_from_the_sites_own_computer_anybody_is_let_in(marisa, with_one):
    with pytest.raises(CommandError, match="Nobody signs in as marissa"):
        call_command("second_step_off", "marissa")
    with pytest.raises(CommandError, match="Name somebody"):
        call_command("second_step_off")
    said = StringIO()
    call_command("second_step_off", "marisa", stdout=said)
    assert said.getvalue() == "1 turned off.\n"
    assert not second_step.is_on(marisa)
    assert LogRow.objects.get(what="second_step_off").who_id is None


class TestAStudioThatAsksForIt:
    @pytest.fixture(autouse=True)
    def asks(self, studio) -> None:
        Studio.objects.filter(pk=studio.pk).update(second_step_for_staff=True)

    def test_shows_its_staff_nothing_until_they_have_one(self, studio, marisa):
        horn = people.horn(studio)
        desk = in_as(marisa)
        for address in (
            reverse("studio_today"),
            reverse("home"),
            reverse("student", args=[horn.pk]),
            reverse("person", args=[horn.player_id]),
        ):
            answer = desk.get(address, follow=True)
            assert answer.redirect_chain[-1][0] == reverse("second_step"), address
            assert "Your studio asks" in answer.content.decode()
        assert desk.get(reverse("api-standing", args=[horn.pk])).status_code == 404
        assert desk.post(reverse("student_codes"), {}).url == reverse("second_step")
        turned_on(marisa)
        assert desk.get(reverse("student", args=[horn.pk])).status_code == 200

    def test_asks_nothing_of_students_and_families(self, studio):
        asks_nothing_of_students_and_families(studio)

    @pytest.mark.parametrize(("role", "name"), [("guardian", "at_home"), ("student", "today")])
    def test_is_not_just_missing_to_whoever_has_another_place_too(self, studio, marisa, role, name):
        other = Membership.objects.create(user=marisa, studio=studio, role=role)
        other.wards.add(people.horn(studio).player)
        desk = in_as(marisa)
        page = desk.get(reverse("home"), follow=True)
        assert page.redirect_chain[-1][0] == reverse("second_step")
        assert f'href="{reverse(name)}"' in page.content.decode()
        turned_on(marisa)
        assert desk.get(reverse("home")).url == reverse("studio_today")

    def test_keeps_good_what_its_teachers_have_handed_out_on_paper(self, studio, marisa):
        whom = invitations.Whom(role=Membership.Role.STUDENT, horn=ALTO)
        _row, code = invitations.invite(whom, studio=studio, by=marisa)
        child = Client()
        assert child.post(reverse("join"), {"code": code}).url == reverse("join_as")
        child.post(reverse("join_as"), {"name": "Nell Harbour", "passphrase": "otter-lamp-cedar-plum"})
        assert child.get(reverse("today")).status_code == 200

    def test_lets_nobody_turn_it_off_and_uses_up_no_code(self, marisa, with_one):
        desk = in_as(marisa)
        page = desk.get(reverse("second_step")).content.decode()
        assert 'value="off"' not in page
        for code in (digits(marisa), with_one[0]):
            answer = desk.post(reverse("second_step"), {"what": "off", "code": code})
            assert answer.status_code == 400
            assert "it stays on" in answer.context["form"].errors["code"][0]
        assert second_step.is_on(marisa)
        assert second_step.opens(marisa, digits(marisa))
        assert second_step.opens(marisa, with_one[0])

    def test_signs_nobody_out_who_still_has_to_set_it_up(self, studio, marisa, boss):
        turned_on(User.objects.get(username="orla"))
        desk = in_as(marisa)
        place = {"what": "place", "role": "assistant", "ends_on": ""}
        boss.post(reverse("colleague", args=[marisa.memberships.get().pk]), place)
        assert desk.get(reverse("second_step")).status_code == 200


def test_an_owner_asks_for_it_only_with_one_of_their_own(studio, boss):
    rules = {"name": studio.name, "time_zone": "Europe/Lisbon", "a4_hz": "440", "keep_takes_days": "60"}
    answer = boss.post(reverse("house_rules"), rules | {"second_step_for_staff": "on"})
    assert answer.status_code == 400
    assert "Set up your own second step first" in answer.content.decode()
    turned_on(User.objects.get(username="orla"))
    assert boss.post(reverse("house_rules"), rules | {"second_step_for_staff": "on"}).status_code == 302
    studio.refresh_from_db()
    assert studio.second_step_for_staff
    assert whats()[-1] == "rules"


def test_a_teacher_who_lost_the_passphrase_gets_a_new_one_from_the_owner(marisa, boss):
    desk = in_as(marisa)
    page = boss.post(reverse("colleague", args=[marisa.memberships.get().pk]), {"what": "passphrase"})
    assert "Print this for Marisa Oakhanger" in page.content.decode()
    assert desk.get(reverse("studio_today")).status_code == 302
    assert whats()[-1] == "slip"
