"""Forms take in what they show and nothing else: every field of every row is sent along, and none of them moves."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from django.apps import apps
from django.db.models import BooleanField, DateField, IntegerField, JSONField
from django.test import Client
from django.urls import reverse

from studio.models import Consent, Horn, Membership, User
from tests.unit import belonging
from tests.unit.access_table import TABLE
from tests.unit.access_world import World
from tests.unit.forms_sent import SENT, code
from tests.unit.test_access_matrix import OWN, read

pytestmark = pytest.mark.django_db

WORD, NUMBER, DAY = "intruded-by-a-form", 4711, "1999-09-09"
ACCOUNT = ("username", "password", "is_staff", "is_superuser", "is_active", "email")
PLACE = ("user_id", "studio_id", "role", "joined_on", "ends_on", "of_age")
HORN = ("player_id", "kind", "lowest_written_midi", "highest_keyed_written_midi", "a4_hz", "note_offsets_cents")
# What these forms are for; everything else in those columns stays.
MAY_MOVE = {"my_doors": {"password"}, "person": {"of_age", "ends_on"}, "colleague": {"role", "ends_on"}}
MAY_DELETE = {"delete_everything"}
NOT_FORMS = {
    "reminder_confirm": "takes a key, and says that its address is right",
    "reminder_stop": "takes a key, and deletes what it is the key of",
    "sign_in_code": "takes a code, after a passphrase", "second_step": "takes a code that a phone shows",
    "support-login": "sends on", "shared_files": "takes nothing in, and sends on",
    "sign-in": "gives no rows a value", "sign-out": "takes nothing", "turn_of": "needs an enrolled device",
    "api-upload": "takes bytes", "join_as": "tested by itself below",
    "note_lies": "takes notes that a proposal stands for, after many takes",
    "ear_found": "takes the name of a measure that many answers were given for",
}  # fmt: skip


@pytest.fixture
def world(settings, tmp_path) -> World:
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, "DEFAULT_THROTTLE_CLASSES": []}
    settings.PUSH = True
    return World()


def intruded(world: World) -> dict[str, str]:
    """A value for every field of every row of ours: marks that can be found again, and keys of the other studio."""
    foreign = {
        "User": world.people["y"].pk, "Studio": world.horns["y"].studio.pk, "Membership": world.horns["y"].player_id,
        "Horn": world.horns["y"].pk, "Take": world.objects["take_id"][2], "Try": world.objects["try_id"][2],
        "Exercise": world.objects["exercise_id"][2], "Routine": world.objects["routine_id"][2],
    }  # fmt: skip
    sent = {}
    for name in ("studio", "assignments", "analysis"):
        for model in apps.get_app_config(name).get_models():
            for field in model._meta.concrete_fields:
                value = _value(field, foreign)
                sent[field.name] = sent[field.attname] = value
    return sent


def _value(field: Any, foreign: dict[str, Any]) -> str:
    if field.related_model is not None:
        return str(foreign.get(field.related_model.__name__, foreign["Membership"]))
    if isinstance(field, BooleanField):
        return "true"
    if isinstance(field, DateField):  # and instants
        return DAY
    if isinstance(field, IntegerField):
        return str(NUMBER)
    return json.dumps({WORD: WORD}) if isinstance(field, JSONField) else WORD


def guarded() -> dict[object, dict[str, Any]]:
    """Columns that decide who somebody is, what they may do and whose a thing is."""
    rows: dict[object, dict[str, Any]] = {}
    for model, columns in ((User, ACCOUNT), (Membership, PLACE), (Horn, HORN), (Consent, ("student_id", "wording"))):
        for row in model._default_manager.values("pk", *columns):
            rows[row.pop("pk")] = row
    return rows


def test_every_form_is_tried():
    forms = {name for name, method in read(TABLE) if method == "POST"}
    assert forms == set(SENT) | set(NOT_FORMS) - {"api-upload"}


@pytest.mark.parametrize("name", SENT)
def test_nothing_moves_but_what_the_form_asks_for(world, name):
    who, form = SENT[name]
    body = {**intruded(world), **form(world)}
    before, marks = guarded(), count(world)
    answer = send(world, who, name, body)
    assert answer.status_code in (200, 201, 302, 204), (answer.status_code, name)
    after = guarded()
    for key, row in before.items():
        if name not in MAY_DELETE or key in after:
            moved = {column for column in row if after[key][column] != row[column]}
            assert moved <= MAY_MOVE.get(name, set()), (name, key)
    assert not User.objects.filter(is_superuser=True).exists()
    assert not User.objects.filter(is_staff=True).exists()
    grown = {mark for mark, times in count(world).items() if times > marks[mark]}
    assert grown == set(), name


def count(world: World) -> dict[str, int]:
    """How often each mark, and each key of the other studio, stands anywhere in the database."""
    kept = {table: rows for table, rows in belonging.tables().items() if table != "studio_session"}
    text = repr(kept)
    foreign = (str(world.people["y"].pk), str(world.horns["y"].player_id), str(world.horns["y"].studio.pk))
    found = {mark: text.count(mark) + text.count(mark.replace("-", "")) for mark in (WORD, DAY, *foreign)}
    return found | {str(NUMBER): len(re.findall(rf"\b{NUMBER}\b", text))}  # four digits stand within any hash


def send(world: World, who: str, name: str, body: dict[str, Any]) -> Any:
    client = Client()
    if who != "a":
        client.force_login(world.people[who])
    keys = world.keys(name, OWN[name])[0]
    address = reverse(name, kwargs=keys)
    if name == "api-sound-check":
        return client.post(address, json.dumps(body), "application/json")
    answer = client.post(address, body)
    if answer.streaming:
        b"".join(answer.streaming_content)
    return answer


def test_whoever_joins_is_what_the_code_says(world):
    client = Client()
    client.post(reverse("join"), {"code": code(world)})
    sent = {**intruded(world), "name": "Nell Harbour", "passphrase": "otter-lamp-cedar-plum", "role": "owner"}
    assert client.post(reverse("join_as"), sent).status_code == 302
    nell = Membership.objects.get(user__name="Nell Harbour")
    assert (nell.role, nell.studio, nell.of_age, nell.ends_on) == ("student", world.horns["s"].studio, False, None)
    assert [nell.user.is_staff, nell.user.is_superuser] == [False, False]
