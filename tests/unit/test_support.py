"""Support (Django's admin): every list opens, and history can't be rewritten."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib import admin
from django.contrib.auth.models import Permission
from django.test import Client
from django.urls import NoReverseMatch, reverse

from analysis.models import Analysis, Result
from assignments import decisions
from assignments.models import Comment, Decision, Hearing, Opening, PlayedDay, Take, Try, Week
from studio.models import Consent, LogRow, Membership, SecondStep, Session, User
from tests import people, played
from tests.unit.second_steps import turned_on

pytestmark = pytest.mark.django_db

OURS = [model for model in admin.site._registry if model._meta.app_label in ("studio", "assignments", "analysis")]
HISTORY = [Consent, LogRow, Week, Take, Try, PlayedDay, Decision, Opening, Hearing, Analysis, Result]


@pytest.fixture
def supporter(client):
    user = User.objects.create_superuser("supporter", password=people.PASSWORD, name="Supporter")
    client.force_login(user)
    return user


@pytest.fixture
def played_studio(supporter):
    """One row of nearly everything."""
    studio = people.studio()
    teacher = people.teacher(studio).user
    horn = people.horn(studio)
    tried = played.day(played.long_week(horn, teacher), studio.today() - dt.timedelta(days=1), [(60, "mf")])[0]
    decisions.decide(horn=horn, by=teacher, kind="open", stage=1, words="For the concert.")
    Hearing.objects.create(take=tried.take, about_try=tried, by=teacher)
    Comment.objects.create(horn=horn, by=teacher, text="Warm air.")
    return studio


def address(model, action, *args):
    return reverse(f"admin:{model._meta.app_label}_{model._meta.model_name}_{action}", args=args)


@pytest.mark.parametrize("model", OURS, ids=lambda model: model.__name__)
def test_every_list_and_row_opens_and_can_be_searched(client, played_studio, model):
    assert client.get(address(model, "changelist")).status_code == 200
    assert client.get(address(model, "changelist"), {"q": "pim"}).status_code == 200
    row = model.objects.first()
    if row is not None and model is not Session:
        assert client.get(address(model, "change", row.pk)).status_code == 200


def test_the_key_of_a_sign_in_stands_on_no_page_and_in_no_address(client, played_studio):
    theirs = people.teacher(played_studio, "Odile Marsh").user
    Client().force_login(theirs, backend="django.contrib.auth.backends.ModelBackend")
    keys = set(Session.objects.values_list("pk", flat=True))
    assert len(keys) == 2
    for page in (address(Session, "changelist"), address(User, "delete", theirs.pk), reverse("admin:index")):
        answer = client.get(page)
        assert answer.status_code == 200
        assert not [key for key in keys if key in answer.content.decode()]
    for name in ("change", "delete", "history"):
        with pytest.raises(NoReverseMatch):
            address(Session, name, "a")
        row = f"{address(Session, 'changelist')}{keys.copy().pop()}/{name}/"
        assert client.get(row).status_code == client.post(row).status_code == 404


def test_support_signs_somebody_out_on_every_device_and_that_is_written_down(client, played_studio):
    place, others = people.teacher(played_studio, "Odile Marsh"), people.teacher(played_studio, "Bram Thistle").user
    theirs = place.user
    for user in (theirs, theirs, others):
        Client().force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    sent = {"action": "sign_out_everywhere", "_selected_action": [theirs.pk]}
    assert client.post(address(User, "changelist"), sent).status_code == 302
    assert not Session.objects.filter(user=theirs).exists()
    assert Session.objects.filter(user=others).count() == 1
    assert [row.what for row in LogRow.objects.filter(about_id=place.pk)] == ["signed_out"]


PASSPHRASES = {"usable_password": "true", "password1": "lamp-otter-cedar-plum", "password2": "lamp-otter-cedar-plum"}


def passphrase_page(user):
    return reverse("admin:auth_user_password_change", args=[user.pk])


@pytest.mark.both_databases
def test_another_passphrase_from_support_ends_every_sign_in_of_that_person_and_no_other(client, supporter):
    place = people.teacher(people.studio(), "Odile Marsh")
    for _phone in range(2):
        Client().force_login(place.user, backend="django.contrib.auth.backends.ModelBackend")
    assert client.post(passphrase_page(place.user), {**PASSPHRASES, "password2": "another"}).status_code == 200
    assert Session.objects.filter(user=place.user).count() == 2
    assert client.post(passphrase_page(place.user), PASSPHRASES).status_code == 302
    assert not Session.objects.filter(user=place.user).exists()
    row = LogRow.objects.get(about_id=place.pk)
    assert (row.what, row.who_id) == ("signed_out", supporter.pk)
    assert client.get(reverse("admin:index")).status_code == 200
    assert client.post(passphrase_page(supporter), PASSPHRASES).status_code == 302
    assert client.get(reverse("admin:index")).status_code == 200  # their own sign-in stays
    assert Session.objects.filter(user=supporter).count() == 1


@pytest.fixture
def helper(client, supporter):
    """Somebody in support who may change people, and nothing more."""
    user = User.objects.create_user("helper", password=people.PASSWORD, name="Helper", is_staff=True)
    user.user_permissions.set(Permission.objects.filter(content_type__app_label="studio", codename__endswith="_user"))
    client.force_login(user)
    return user


def test_who_may_change_people_in_support_gives_nobody_more_rights(client, helper):
    other = User.objects.create_user("olga", password=people.PASSWORD, name="Olga Fell")
    every = Permission.objects.values_list("pk", flat=True)
    for user in (helper, other):
        sent = {"username": user.username, "name": "Renamed", "is_active": "on", "light": user.light}
        more = {"is_staff": "on", "is_superuser": "on", "user_permissions": list(every)[:3]}
        assert client.post(address(User, "change", user.pk), sent | more).status_code == 302
        user.refresh_from_db()
        assert (user.name, user.is_superuser) == ("Renamed", False)
    assert (helper.is_staff, other.is_staff, other.user_permissions.count()) == (True, False, 0)
    assert helper.user_permissions.count() == 4


def test_who_may_change_people_in_support_opens_nobody_elses_support_pages(client, helper, supporter):
    assert client.post(passphrase_page(supporter), PASSPHRASES).status_code == 403
    assert client.post(address(User, "change", supporter.pk), {"username": "mine"}).status_code == 403
    assert client.post(address(User, "delete", supporter.pk), {"post": "yes"}).status_code == 403
    supporter.refresh_from_db()
    assert supporter.check_password(people.PASSWORD)
    assert client.post(passphrase_page(helper), PASSPHRASES).status_code == 302


@pytest.mark.parametrize("model", HISTORY, ids=lambda model: model.__name__)
def test_history_is_neither_added_to_changed_nor_deleted(client, played_studio, model):
    assert client.get(address(model, "add")).status_code == 403
    row = model.objects.first()
    if row is not None:
        assert client.post(address(model, "change", row.pk), {"words": "rewritten"}).status_code == 403
        assert client.post(address(model, "delete", row.pk), {"post": "yes"}).status_code == 403
    assert model.objects.filter(pk=getattr(row, "pk", None)).exists() == (row is not None)


def test_a_person_can_be_added_with_a_passphrase(client, supporter):
    sent = {
        "username": "olga",
        "name": "Olga Fell",
        "usable_password": "true",
        "password1": "lamp-otter-cedar-plum",
        "password2": "lamp-otter-cedar-plum",
    }
    assert client.post(address(User, "add"), sent).status_code == 302
    assert User.objects.get(username="olga").check_password("lamp-otter-cedar-plum")


def test_only_support_staff_come_in_and_nobody_is_sent_to_and_fro(client):
    client.force_login(people.teacher(people.studio()).user)
    assert client.get(reverse("admin:index")).status_code == 302
    assert client.get(reverse("admin:index"), follow=True).status_code == 404


def test_whoever_is_in_already_is_led_on(client, supporter):
    assert client.get(reverse("support-login")).url == reverse("admin:index")


def one_that_asks() -> None:
    people.studio(second_step_for_staff=True)


def several() -> None:
    people.studio()
    people.studio("Far Quay")


@pytest.mark.parametrize("there_are", [one_that_asks, several])
def test_support_sees_no_studio_without_the_second_step_that_its_staff_need(client, supporter, there_are):
    there_are()
    for page in ("admin:index", "admin:studio_user_changelist"):
        shown = client.get(reverse(page), follow=True)
        assert shown.redirect_chain[-1][0] == reverse("second_step")
        assert "Supporter" not in shown.content.decode()
    codes = turned_on(supporter)
    assert client.get(reverse("admin:studio_user_changelist")).status_code == 200
    client.post(reverse("second_step"), {"what": "off", "code": codes[0]})
    assert SecondStep.objects.filter(user=supporter).exists()


def test_support_of_one_studio_that_asks_for_none_comes_in_without(client, supporter):
    people.studio()
    assert client.get(reverse("admin:index")).status_code == 200


def place_sent(place, **changed):
    kept = {"role": place.role, "joined_on": str(place.joined_on), "ends_on": "", "wards": [], "teachers": []}
    return {**kept, **changed}


def test_support_leaves_no_studio_without_an_owner(client, supporter):
    studio = people.studio()
    owner = people.person("Orla Keel", studio, people.Role.OWNER)
    page, other = address(Membership, "change", owner.pk), people.teacher(studio)
    yesterday = str(studio.today() - dt.timedelta(days=1))
    for changed in ({"role": "teacher"}, {"ends_on": yesterday}):
        answer = client.post(page, place_sent(owner, **changed))
        assert answer.status_code == 200
        assert "a studio is never without one" in answer.content.decode()
    assert client.post(address(Membership, "delete", owner.pk), {"post": "yes"}).status_code == 403
    assert client.post(address(User, "delete", owner.user_id), {"post": "yes"}).status_code == 403
    several = {"action": "delete_selected", "_selected_action": [owner.pk, other.pk], "post": "yes"}
    assert client.post(address(Membership, "changelist"), several).status_code == 403
    assert client.post(page, place_sent(owner, user=other.user_id, studio=people.studio("Far").pk)).status_code == 302
    owner.refresh_from_db()
    assert (owner.role, owner.ends_on, owner.user.name, owner.studio) == ("owner", None, "Orla Keel", studio)


def test_support_names_another_owner_and_then_ends_the_first_ones_place(client, supporter):
    studio = people.studio()
    owner, other = people.person("Orla Keel", studio, people.Role.OWNER), people.teacher(studio)
    assert client.post(address(Membership, "change", other.pk), place_sent(other, role="owner")).status_code == 302
    assert client.post(address(Membership, "change", owner.pk), place_sent(owner, role="teacher")).status_code == 302
    assert client.post(address(Membership, "delete", owner.pk), {"post": "yes"}).status_code == 302
    assert list(Membership.objects.values_list("user__name", "role")) == [("Marisa Oakhanger", "owner")]
