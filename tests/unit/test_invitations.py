"""Joining with a code: short, once, for a fortnight; wrong ones are counted and open ones can be taken back."""

from __future__ import annotations

import datetime as dt
import re

import pytest
import time_machine
from django.test import Client
from django.urls import reverse
from django.utils.formats import date_format

from assignments import builds
from studio import codes, invitations, throttle
from studio.invitations import Whom
from studio.models import CodeTry, Horn, Invitation, LogRow, Membership, User
from tests import people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]

Role = Membership.Role
ALTO = {"kind": "alto", "lowest_written_midi": 58, "highest_keyed_written_midi": 90, "level": "beginner"}
SCHOOL, HOME = "192.0.2.7", "192.0.2.8"  # addresses kept for examples (RFC 5737)


def code_for(studio, teacher, **whom) -> str:
    whom = {"role": Role.STUDENT, "horn": ALTO} | whom
    return invitations.invite(Whom(**whom), studio=studio, by=teacher)[1]


def show(client, code, address=HOME):
    return client.post(reverse("join"), {"code": code}, REMOTE_ADDR=address)


def come_in(client, code, **sent):
    show(client, code)
    return client.post(reverse("join_as"), {"name": "Nell Harbour", "passphrase": "otter-lamp-cedar-plum"} | sent)


def test_a_child_with_a_code_is_in_after_two_forms_without_an_email_address(client, studio, teacher):
    code = code_for(studio, teacher)
    assert show(client, code).url == reverse("join_as")
    page = client.get(reverse("join_as")).content.decode()
    suggested = re.search(r'name="passphrase" value="([a-z-]+)"', page)
    assert suggested is not None
    answer = client.post(reverse("join_as"), {"name": "Nell Harbour", "passphrase": suggested[1]})
    assert answer.url == reverse("home")
    assert client.get(reverse("today")).status_code == 200
    nell = User.objects.get(name="Nell Harbour")
    assert (nell.email, nell.username) == ("", "nell-harbour")
    horn = Horn.objects.get(player__user=nell)
    assert (horn.kind, horn.studio) == ("alto", studio)
    assert nell.check_password(suggested[1])


def test_what_a_code_opens_is_not_known_before_the_form_is_sent(client, studio, teacher):
    code_for(studio, teacher, name="Nell Harbour")
    assert "Nell" not in client.get(reverse("join")).content.decode()
    assert client.get(reverse("join_as")).url == reverse("join")


@pytest.mark.parametrize("typed", ["{0}", "{1}", " {1} ", "{2}"], ids=["printed", "no dash", "gaps", "small"])
def test_a_code_is_understood_however_it_is_typed(client, studio, teacher, typed):
    code = code_for(studio, teacher)
    assert show(client, typed.format(codes.shown(code), code, code.lower())).status_code == 302


def test_letters_that_look_like_figures_are_taken_for_them():
    assert codes.read("oil12-3abcd") == codes.read("01112-3ABCD") == "011123ABCD"


def test_a_code_has_fifty_bits_and_no_letter_that_looks_like_another():
    assert len(set(codes.ALPHABET)) ** codes.LETTERS >= 2**50
    assert not set("ILOU") & set(codes.ALPHABET)
    made = {codes.make() for _ in range(200)}
    assert len(made) == 200
    assert all(codes.read(codes.shown(code)) == code for code in made)


def test_the_code_itself_is_kept_nowhere(studio, teacher):
    code = code_for(studio, teacher)
    row = Invitation.objects.get()
    kept = " ".join(str(getattr(row, field.attname)) for field in Invitation._meta.concrete_fields)
    assert code not in kept
    assert codes.shown(code) not in kept


def test_hashing_a_code_is_slow_and_salted(settings):
    first = codes.hashed("ABCDE12345")
    settings.SECRET_KEY = "another key of this site, long enough to stand in for it in a test"
    assert codes.hashed("ABCDE12345") != first


def test_a_code_opens_once(studio, teacher):
    code = code_for(studio, teacher)
    come_in(Client(), code)
    assert show(Client(), code).status_code == 400
    assert User.objects.filter(name="Nell Harbour").count() == 1


def test_of_two_who_show_the_same_code_one_comes_in(studio, teacher):
    code = code_for(studio, teacher)
    first, second = Client(), Client()
    show(first, code)
    show(second, code)
    sent = {"name": "Nell Harbour", "passphrase": "otter-lamp-cedar-plum"}
    assert first.post(reverse("join_as"), sent).url == reverse("home")
    assert second.post(reverse("join_as"), sent).url == reverse("join")
    assert Membership.objects.filter(role=Role.STUDENT).count() == 1


def test_after_a_fortnight_a_code_opens_nothing(client, studio, teacher):
    code = code_for(studio, teacher)
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=14, minutes=1)):
        assert show(client, code).status_code == 400
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=13, hours=23)):
        assert show(client, code).status_code == 302


def test_a_code_taken_back_opens_nothing_even_for_somebody_halfway_in(client, studio, teacher):
    code = code_for(studio, teacher)
    show(client, code)
    desk = Client()
    desk.force_login(teacher)
    assert desk.post(reverse("revoke_code", args=[Invitation.objects.get().pk])).url == reverse("people")
    assert client.get(reverse("join_as")).url == reverse("join")
    assert show(Client(), code).status_code == 400


def test_ten_wrong_codes_in_an_hour_and_no_more_are_looked_at_from_there(client, studio, teacher):
    code = code_for(studio, teacher)
    for _ in range(throttle.MOST_TRIES[throttle.CODE]):
        assert show(client, "AAAAA-AAAAA", SCHOOL).status_code == 400
    answer = show(client, code, SCHOOL)
    assert answer.status_code == 429
    assert 0 < int(answer["Retry-After"]) <= 3600
    assert "Wait a while" in answer.content.decode()
    assert show(client, code, HOME).status_code == 302
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(hours=1, minutes=1)):
        assert show(client, code, SCHOOL).status_code == 302
        show(client, "AAAAA-AAAAA", SCHOOL)
    assert CodeTry.objects.count() == 1  # what is older than the hour is forgotten


def test_a_whole_class_joins_through_one_address(studio, teacher):
    for number in range(throttle.MOST_TRIES[throttle.CODE] + 5):
        child = Client(REMOTE_ADDR=SCHOOL)
        assert come_in(child, code_for(studio, teacher), name=f"Child {number}").url == reverse("home")


def test_a_passphrase_that_everybody_uses_is_refused_in_words(client, studio, teacher):
    answer = come_in(client, code_for(studio, teacher), passphrase="password12")
    assert answer.status_code == 400
    assert "too common" in answer.content.decode()
    assert not User.objects.filter(name="Nell Harbour").exists()


def test_who_lost_the_slip_comes_back_with_a_code_and_the_old_passphrase_is_over(client, studio, teacher):
    pim = people.horn(studio).player
    code = code_for(studio, teacher, member=pim, horn=None)
    answer = come_in(client, code)
    assert answer.url == reverse("home")
    assert client.get(reverse("today")).status_code == 200
    assert User.objects.get(username="pim").check_password("otter-lamp-cedar-plum")
    assert User.objects.filter(memberships__role=Role.STUDENT).count() == 1


def test_a_guardians_code_leads_to_the_page_where_permission_is_given(client, studio, teacher):
    pim = people.horn(studio, agreed=False).player
    code = code_for(studio, teacher, role=Role.GUARDIAN, ward=pim, horn=None)
    answer = come_in(client, code, name="Jo Larkspur")
    assert client.get(answer.url).url == reverse("at_home")
    assert client.get(reverse("at_home")).url == reverse("home_permission", args=[pim.pk])
    assert list(pim.guardians.values_list("user__name", flat=True)) == ["Jo Larkspur"]


def test_a_second_childs_code_is_taken_by_the_guardian_who_is_signed_in(client, studio, teacher):
    pim, ottilie = (people.horn(studio, name).player for name in ("Pim Larkspur", "Ottilie Fenn"))
    come_in(client, code_for(studio, teacher, role=Role.GUARDIAN, ward=pim, horn=None), name="Jo Larkspur")
    show(client, code_for(studio, teacher, role=Role.GUARDIAN, ward=ottilie, horn=None))
    assert "Go on as Jo Larkspur" in client.get(reverse("join_as")).content.decode()
    client.post(reverse("join_as"), {"as": "me"})
    home = Membership.objects.get(role=Role.GUARDIAN)
    assert set(home.wards.all()) == {pim, ottilie}


def test_a_teachers_sheet_has_a_code_and_a_drawing_for_each_student(client, studio, teacher):
    client.force_login(teacher)
    sent = {"name": "", "horn": builds.USUAL, "level": "beginner", "how_many": "3"}
    page = client.post(reverse("student_codes"), sent).content.decode()
    printed = re.findall(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", page)
    assert len(set(printed)) == 3
    assert page.count('class="qr"') == 3
    assert "http://testserver/join/" in page
    for code in printed:
        assert show(Client(), code).status_code == 302


def test_only_the_owner_makes_codes_for_staff_and_a_substitute_leaves_again(client, studio, teacher):
    client.force_login(teacher)
    assert client.get(reverse("staff_code")).status_code == 404
    client.force_login(people.person("Orla Keel", studio, Role.OWNER).user)
    last = studio.today() + dt.timedelta(days=20)
    page = client.post(reverse("staff_code"), {"role": "teacher", "name": "Sub Stone", "ends_on": last.isoformat()})
    code = re.search(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", page.content.decode())
    assert code is not None
    assert date_format(last, "j F Y") in page.content.decode()  # they are told on the slip
    sub = Client()
    come_in(sub, code[1], name="Sub Stone")
    assert sub.get(reverse("studio_today")).status_code == 200
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=22)):
        assert sub.get(reverse("studio_today")).status_code == 404


def test_making_and_using_a_code_is_written_down(client, studio, teacher):
    come_in(client, code_for(studio, teacher))
    nell = Membership.objects.get(role=Role.STUDENT)
    rows = [(row.what, row.who_id) for row in LogRow.objects.order_by("pk")]
    assert rows == [("invited", teacher.pk), ("joined", nell.user_id), ("signed_in", nell.user_id)]
    assert LogRow.objects.filter(what="signed_in", address="127.0.0.1", about_id=nell.pk).exists()


@pytest.mark.parametrize("change", [{"ends_on": dt.date(2026, 1, 1)}, {"role": Role.ASSISTANT}])
def test_whoever_left_or_decides_less_keeps_no_door_open(client, studio, teacher, change):
    """Else a substitute could make a code for a child's family on the last day, and use it after."""
    pim = people.horn(studio).player
    code = code_for(studio, teacher, role=Role.GUARDIAN, ward=pim, horn=None)
    halfway = Client()
    assert show(halfway, code).status_code == 302
    Membership.objects.filter(user=teacher).update(**change)
    assert show(client, code).status_code == 400
    assert come_in(halfway, code).url == reverse("join")
    assert not pim.guardians.exists()


def test_a_code_for_a_lost_slip_opens_no_account_that_has_a_place_elsewhere_by_now(client, studio, teacher):
    pim = people.horn(studio).player
    code = code_for(studio, teacher, member=pim, horn=None)
    elsewhere = people.studio("Quay Two")
    Membership.objects.create(user=pim.user, studio=elsewhere, role=Role.STUDENT)
    assert show(client, code).status_code == 400
    pim.user.refresh_from_db()
    assert pim.user.check_password(people.PASSWORD)
