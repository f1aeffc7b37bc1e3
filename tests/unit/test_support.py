"""Support (Django's admin): every list opens, and history can't be rewritten."""

from __future__ import annotations

import datetime as dt

import pytest
from django.contrib import admin
from django.urls import reverse

from analysis.models import Analysis, Result
from assignments import decisions
from assignments.models import Comment, Decision, Hearing, Opening, PlayedDay, Take, Try, Week
from studio.models import Consent, LogRow, User
from tests import people, played

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
    assert row is None or client.get(address(model, "change", row.pk)).status_code == 200


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


def test_only_support_staff_come_in(client):
    client.force_login(people.teacher(people.studio()).user)
    assert client.get(reverse("admin:index")).status_code == 302
