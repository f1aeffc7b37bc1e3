"""Somebody whose last day comes: a substitute, a teacher with students, whoever signs in afterwards all the same."""

from __future__ import annotations

import datetime as dt

import pytest
import time_machine
from django.test import Client
from django.urls import reverse

from studio import enrolment, invitations
from studio.invitations import Whom
from studio.models import Invitation, LogRow, Membership, User
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def boss(studio) -> Client:
    return in_as(people.person("Orla Keel", studio, Membership.Role.OWNER).user)


def in_as(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def later(days: int):
    return time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=days))


def test_a_substitutes_last_day_is_still_to_come(studio, boss):
    yesterday = studio.today() - dt.timedelta(days=1)
    answer = boss.post(reverse("staff_code"), {"role": "teacher", "name": "Vale", "ends_on": yesterday.isoformat()})
    assert answer.status_code == 400
    assert "That day is over" in answer.content.decode()
    assert not Invitation.objects.exists()


def test_a_substitute_works_until_the_last_day_and_finds_words_on_the_next(studio):
    owner = people.person("Orla Keel", studio, Membership.Role.OWNER).user
    horn = people.horn(studio)
    whom = Whom(role=Membership.Role.TEACHER, name="Vale", ends_on=studio.today() + dt.timedelta(days=2))
    _row, code = invitations.invite(whom, studio=studio, by=owner)
    client = Client()
    client.post(reverse("join"), {"code": code})
    client.post(reverse("join_as"), {"name": "Vale Sub", "passphrase": "otter-lamp-cedar-plum"})
    for days, status in ((0, 200), (2, 200), (3, 404), (4, 404)):
        with later(days):
            assert client.get(reverse("student", args=[horn.pk])).status_code == status, days
    with later(4):
        page = client.get(reverse("home"))
        assert page.status_code == 200
        assert "You have no place in a studio now" in page.content.decode()


def test_whoever_left_comes_in_again_with_a_new_code(studio, teacher):
    pim = people.horn(studio).player
    Membership.objects.filter(pk=pim.pk).update(ends_on=studio.today() - dt.timedelta(days=1))
    client = in_as(pim.user)
    assert "I have a new code" in client.get(reverse("home")).content.decode()
    _row, code = invitations.invite(Whom(role=Membership.Role.STUDENT), studio=studio, by=teacher)
    client.post(reverse("join"), {"code": code})
    client.post(reverse("join_as"), {"as": "me"})
    assert client.get(reverse("home")).url == reverse("today")


def test_students_of_a_teacher_who_leaves_are_not_forgotten(studio, teacher, boss):
    leaving = teacher.memberships.get()
    for name in ("Pim Larkspur", "Ottilie Fenn"):
        people.horn(studio, name).player.teachers.add(leaving)
    words = "2 students still have lessons with Marisa Oakhanger"
    assert words not in boss.get(reverse("people")).content.decode()
    Membership.objects.filter(pk=leaving.pk).update(ends_on=studio.today() - dt.timedelta(days=1))
    page = boss.get(reverse("people")).content.decode()
    assert words in page
    assert reverse("colleague", args=[leaving.pk]) in page
    stays = people.teacher(studio, "Sela Brand")
    boss.post(reverse("colleague", args=[leaving.pk]), {"what": "hand_over", "to": str(stays.pk)})
    assert "still have lessons" not in boss.get(reverse("people")).content.decode()


def test_a_child_is_not_its_own_family(studio, teacher):
    pim = people.horn(studio).player
    whom = Whom(role=Membership.Role.GUARDIAN, ward=pim)
    _row, code = invitations.invite(whom, studio=studio, by=teacher)
    child = in_as(pim.user)
    child.post(reverse("join"), {"code": code})
    assert "Go on as" not in child.get(reverse("join_as")).content.decode()
    assert child.post(reverse("join_as"), {"as": "me"}).status_code == 400
    assert not pim.guardians.exists()


@pytest.mark.parametrize(
    ("held_until", "code_until", "then"),
    [(None, 3, None), (5, 3, 5), (3, 5, 5), (3, None, None), (-3, 3, 3)],
    ids=["stays", "leaves later", "is asked for longer", "is asked to stay", "has left"],
)
def test_a_substitutes_code_ends_nobodys_place_sooner(studio, held_until, code_until, then):
    owner = people.person("Ola Wrenfield", studio, Membership.Role.OWNER).user
    place = people.teacher(studio)
    days = {days: studio.today() + dt.timedelta(days=days) for days in (-3, 3, 5)}
    Membership.objects.filter(pk=place.pk).update(ends_on=days.get(held_until))
    whom = Whom(role=Membership.Role.TEACHER, ends_on=days.get(code_until))
    made, _code = invitations.invite(whom, studio=studio, by=owner)
    invitations.accept(made, name="", passphrase="", user=place.user)
    place.refresh_from_db()
    assert place.ends_on == days.get(then)


def test_a_guardian_who_was_parted_from_a_child_comes_back_with_no_code_that_lay_at_home(studio, teacher):
    pim, ottilie = people.horn(studio).player, people.horn(studio, "Ottilie Fenn").player
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.set([pim, ottilie])
    of_family, of_child, of_other = (
        invitations.invite(whom, studio=studio, by=teacher)[1]
        for whom in (
            Whom(role=Membership.Role.GUARDIAN, ward=pim),
            Whom(role=Membership.Role.STUDENT, member=pim),
            Whom(role=Membership.Role.GUARDIAN, ward=ottilie),
        )
    )
    enrolment.part(pim, guardian=home, by=teacher)
    assert [Client().post(reverse("join"), {"code": code}).status_code for code in (of_family, of_child)] == [400] * 2
    assert Client().post(reverse("join"), {"code": of_other}).status_code == 302
    assert LogRow.objects.filter(what="uninvited", about_id=pim.pk, who_id=teacher.pk).count() == 1


def test_no_code_makes_a_child_of_who_agrees_for_themselves(studio, teacher):
    grown_up = people.person("Edda Wren", studio, Membership.Role.STUDENT)
    Membership.objects.filter(pk=grown_up.pk).update(of_age=True)
    another, _code = invitations.invite(Whom(role=Membership.Role.STUDENT), studio=studio, by=teacher)
    assert invitations.accept(another, name="", passphrase="", user=grown_up.user) == grown_up
    grown_up.refresh_from_db()
    assert grown_up.of_age
