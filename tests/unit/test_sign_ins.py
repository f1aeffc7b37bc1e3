"""Sign-ins that last: seen, renewed by use, ended by hand, by a new passphrase, by age, and by leaving."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.db import DatabaseError, connection, transaction
from django.test import Client
from django.urls import reverse

from studio import access_log, invitations, sessions
from studio.models import LogRow, Membership, Session
from tests import people
from tests.unit.second_steps import digits, turned_on

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

FIREFOX = "Mozilla/5.0 (Android 14; Mobile; rv:128.0) Gecko/128.0 Firefox/128.0"
SAFARI = "Mozilla/5.0 (iPhone; CPU iPhone OS 17_5 like Mac OS X) AppleWebKit/605 Version/17.5 Mobile Safari/604"


@pytest.fixture
def pim(studio):
    return people.horn(studio).player


def signed_in(agent=FIREFOX, username="pim", password=people.PASSWORD) -> Client:
    client = Client(headers={"user-agent": agent})
    answer = client.post(reverse("sign-in"), {"username": username, "password": password})
    assert answer.status_code == 302
    return client


def later(**time):
    return time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(**time))


def test_one_sees_where_one_is_signed_in(pim):
    phone = signed_in()
    signed_in(SAFARI)
    page = phone.get(reverse("my_doors")).content.decode()
    assert "Firefox on Android" in page
    assert "Safari on iPhone" in page
    assert page.count("Sign out there") == 1
    for key in Session.objects.values_list("session_key", flat=True):
        assert key not in page  # it would open the sign-in


@time_machine.travel("2026-07-01T10:00:00Z", tick=False)
def test_a_sign_in_was_seen_by_the_clock_of_the_studio(pim):
    assert "1 July, 11:00 (Europe/Lisbon)" in signed_in().get(reverse("my_doors")).content.decode()


def test_another_sign_in_is_ended_by_hand(pim):
    phone, other = signed_in(), signed_in(SAFARI)
    place = re.search(r'name="place" value="(\w+)"', phone.get(reverse("my_doors")).content.decode())
    assert place is not None
    phone.post(reverse("my_doors"), {"what": "end", "place": place[1]})
    assert other.get(reverse("today")).status_code == 302
    assert phone.get(reverse("today")).status_code == 200


def test_nobody_ends_somebody_elses(pim, studio):
    phone = signed_in()
    place = sessions.place_of(Session.objects.get().session_key)
    people.horn(studio, "Ottilie Fenn")
    signed_in(username="ottilie").post(reverse("my_doors"), {"what": "end", "place": place})
    assert phone.get(reverse("today")).status_code == 200


def test_all_others_end_at_once(pim):
    phone, one, two = signed_in(), signed_in(SAFARI), signed_in()
    phone.post(reverse("my_doors"), {"what": "end_others"})
    assert [client.get(reverse("today")).status_code for client in (phone, one, two)] == [200, 302, 302]


def test_a_new_passphrase_wants_the_old_one_and_ends_the_others(pim):
    phone, other = signed_in(), signed_in(SAFARI)
    change = {"what": "passphrase", "old": "not-the-one", "new": "otter-lamp-cedar-plum"}
    assert phone.post(reverse("my_doors"), change).status_code == 400
    assert phone.post(reverse("my_doors"), change | {"old": people.PASSWORD, "new": "short"}).status_code == 400
    assert other.get(reverse("today")).status_code == 200
    assert phone.post(reverse("my_doors"), change | {"old": people.PASSWORD}).status_code == 302
    assert [client.get(reverse("today")).status_code for client in (phone, other)] == [200, 302]
    signed_in(password="otter-lamp-cedar-plum")


@pytest.mark.parametrize("has_second_step", [False, True])
def test_who_comes_back_with_a_code_for_a_lost_slip_is_signed_out_on_a_lost_phone_too(pim, studio, has_second_step):
    lost, found = signed_in(), signed_in()
    if has_second_step:
        turned_on(pim.user)
    owner = people.person("Ola Wrenfield", studio, Membership.Role.OWNER)
    whom = invitations.Whom(role=Membership.Role.STUDENT, member=pim)
    _row, code = invitations.invite(whom, studio=studio, by=owner.user)
    found.post(reverse("join"), {"code": code})
    answer = found.post(reverse("join_as"), {"passphrase": "otter-lamp-cedar-plum"})
    assert answer.url == reverse("sign_in_code" if has_second_step else "home")
    if has_second_step:
        assert found.post(answer.url, {"code": digits(pim.user)}).url == reverse("home")
    assert found.get(reverse("today")).status_code == 200
    assert [row.session_key for row in Session.objects.filter(user=pim.user)] == [found.session.session_key]
    assert lost.get(reverse("today")).status_code == 302


def test_a_phone_in_use_stays_signed_in_and_one_that_lay_for_a_month_does_not(pim):
    phone, other = signed_in(), signed_in(SAFARI)
    with later(days=20):
        assert phone.get(reverse("today")).status_code == 200
    with later(days=45):
        assert phone.get(reverse("today")).status_code == 200
        assert other.get(reverse("today")).status_code == 302


def test_after_half_a_year_everybody_signs_in_anew(pim):
    phone = signed_in()
    for day in range(20, 181, 20):
        with later(days=day - 1):
            assert phone.get(reverse("today")).status_code == 200
    with later(days=181):
        assert phone.get(reverse("today")).status_code == 302


def test_a_sign_in_has_a_key_of_its_own(pim):
    client = Client()
    client.get(reverse("join"))
    client.post(reverse("join"), {"code": "AAAAA-AAAAA"})
    before = client.session.session_key
    client.post(reverse("sign-in"), {"username": "pim", "password": people.PASSWORD})
    assert client.session.session_key != before
    assert len(client.session.session_key) >= 26  # of 36 letters and figures: more than 128 bits


def test_who_leaves_is_signed_out_everywhere_and_sees_nothing_from_the_day_after(studio, pim):
    phone = signed_in()
    desk = Client()
    desk.force_login(people.teacher(studio).user)
    yesterday = studio.today() - dt.timedelta(days=1)
    sent = {"what": "details", "name": "Pim Larkspur", "lesson_weekday": "", "ends_on": yesterday.isoformat()}
    assert desk.post(reverse("person", args=[pim.pk]), sent).status_code == 302
    assert not Session.objects.filter(user=pim.user).exists()
    assert phone.get(reverse("today")).status_code == 302


def test_a_role_that_changes_counts_on_the_next_click(studio):
    member = people.person("Reader Fell", studio, Membership.Role.TEACHER)
    owner = Client()
    owner.force_login(people.person("Orla Keel", studio, Membership.Role.OWNER).user)
    reader = signed_in(username="reader")
    assert reader.get(reverse("student_codes")).status_code == 200
    owner.post(reverse("colleague", args=[member.pk]), {"what": "place", "role": "assistant", "ends_on": ""})
    assert reader.get(reverse("student_codes")).status_code == 404
    assert reader.get(reverse("studio_today")).status_code == 200


def test_a_studio_is_never_left_without_an_owner(studio):
    owner = people.person("Orla Keel", studio, Membership.Role.OWNER)
    client = Client()
    client.force_login(owner.user)
    address = reverse("colleague", args=[owner.pk])
    assert client.post(address, {"what": "place", "role": "teacher", "ends_on": ""}).status_code == 400
    leaves = {"what": "place", "role": "owner", "ends_on": studio.today().isoformat()}
    assert client.post(address, leaves).status_code == 400
    other = people.person("Second Keel", studio, Membership.Role.TEACHER)
    client.post(reverse("colleague", args=[other.pk]), {"what": "place", "role": "owner", "ends_on": ""})
    assert client.post(address, leaves).status_code == 302


def test_two_owners_with_a_last_day_each_would_leave_none_behind(studio):
    """One ends after the other: on the day after there is nobody who could make an owner."""
    client = Client()
    owners = [people.person(name, studio, Membership.Role.OWNER) for name in ("Orla Keel", "Second Keel")]
    client.force_login(owners[0].user)
    answers = []
    for days, (owner, role) in enumerate(zip(owners[::-1], ("owner", "teacher"), strict=True), 1):
        ends_on = studio.today() + dt.timedelta(days=9 - days)
        sent = {"what": "place", "role": role, "ends_on": ends_on.isoformat()}
        answers.append(client.post(reverse("colleague", args=[owner.pk]), sent))
    assert [answer.status_code for answer in answers] == [302, 400]
    assert "a studio is never without one" in answers[1].content.decode()
    assert Membership.objects.filter(role="owner", ends_on=None).get() == owners[0]


def test_students_are_handed_over_when_a_teacher_leaves(studio, pim):
    leaving, stays = people.teacher(studio), people.teacher(studio, "Sela Brand")
    pim.teachers.add(leaving)
    client = Client()
    client.force_login(people.person("Orla Keel", studio, Membership.Role.OWNER).user)
    client.post(reverse("colleague", args=[leaving.pk]), {"what": "hand_over", "to": str(stays.pk)})
    assert list(pim.teachers.all()) == [stays]
    assert LogRow.objects.filter(what="role", about_id=pim.pk).exists()


def test_a_guardian_who_is_no_longer_one_sees_nothing_more_of_the_child(studio, pim):
    home = people.person("Jo Larkspur", studio, Membership.Role.GUARDIAN)
    home.wards.set([pim, people.horn(studio, "Ottilie Fenn").player])
    guardian, desk = Client(), Client()
    guardian.force_login(home.user)
    desk.force_login(people.teacher(studio).user)
    assert guardian.get(reverse("home_month", args=[pim.pk])).status_code == 200
    desk.post(reverse("person", args=[pim.pk]), {"what": "part", "guardian_id": str(home.pk)})
    assert guardian.get(reverse("home_month", args=[pim.pk])).status_code == 404
    assert [ward.user.name for ward in home.wards.all()] == ["Ottilie Fenn"]


def test_a_teacher_gives_no_new_passphrase_to_whoever_has_a_place_above_or_elsewhere(studio, pim):
    teacher, owner = people.teacher(studio), people.person("Orla Keel", studio, Membership.Role.OWNER)
    client = Client()
    client.force_login(teacher.user)
    for member in (owner, teacher):
        assert client.post(reverse("person", args=[member.pk]), {"what": "passphrase"}).status_code == 404
    Membership.objects.create(user=pim.user, studio=people.studio("Far Quay"), role="teacher")
    for name, sent in (("person", {"what": "passphrase"}), ("slip_code", {}), ("person", {"what": "sign_out"})):
        assert client.post(reverse(name, args=[pim.pk]), sent).status_code == 404
    pim.user.refresh_from_db()
    assert pim.user.check_password(people.PASSWORD)


def test_the_log_is_added_to_and_never_changed(studio, pim):
    row = access_log.write("exported", studio=studio, who=pim.user, about=pim)
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic():
        LogRow.objects.filter(pk=row.pk).update(what="signed_in")
    with pytest.raises(DatabaseError, match="never changed"), transaction.atomic(), connection.cursor() as cursor:
        cursor.execute("UPDATE studio_logrow SET what = 'signed_in'")
    row.refresh_from_db()
    assert row.what == "exported"


def test_a_sign_in_is_written_down_with_who_when_and_from_where(pim):
    signed_in()
    row = LogRow.objects.get(what="signed_in")
    assert (row.who_id, row.about_id, row.address) == (pim.user_id, pim.pk, "127.0.0.1")
    assert abs((row.at - dt.datetime.now(dt.UTC)).total_seconds()) < 60
