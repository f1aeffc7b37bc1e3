"""Forms take in what they show and nothing else: every field of every row is sent along, and none of them moves."""

from __future__ import annotations

import datetime as dt
import json
import uuid
from collections.abc import Callable
from typing import Any

import pytest
from django.apps import apps
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import BooleanField, DateField, IntegerField, JSONField
from django.test import Client
from django.urls import reverse

from assignments import builds, routines
from studio import invitations
from studio.invitations import Whom
from studio.models import Consent, Horn, Membership, User
from tests import people
from tests.unit import belonging
from tests.unit.access_table import TABLE
from tests.unit.access_world import World
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
SHORT = {"name": "Another Name", "horn": builds.USUAL, "level": "beginner"}
SENT: dict[str, tuple[str, Callable[[World], dict[str, Any]]]] = {  # by route: who sends, and what the form asks for
    "join": ("a", lambda world: {"code": _code(world)}),
    "language": ("s", lambda world: {"language": "de", "note_names": "fr"}),
    "my_doors": ("s", lambda w: {"what": "passphrase", "old": people.PASSWORD, "new": "otter-lamp-cedar-plum"}),
    "devices": ("g", lambda world: {"name": "tablet", "players": str(world.objects["membership_id"][0])}),
    "end_device": ("g", lambda world: {}),
    "pin": ("g", lambda world: {"digits": "270951"}),
    "api-takes": ("s", lambda world: _take(world)),
    "api-sound-check": ("s", lambda world: {"softest_db": -50.0, "loudest_db": -10.0}),
    "one_tone": ("s", lambda world: {"text": "A word."}),
    "lesson": ("s", lambda world: {"text": "A word."}),
    "hurts": ("s", lambda world: {"tell": "no"}),
    "mine": ("s", lambda world: {"light": "night", "type_size": "125"}),
    "take_file": ("s", lambda world: {"client_key": str(uuid.uuid4()), "slots": "0", "chosen": _sound()}),
    "day_files": ("s", lambda world: {"client_key": str(uuid.uuid4()), "slots": "0", "chosen": _sound()}),
    "home_messages": ("g", lambda world: {"text": "A word."}),
    "home_permission": ("g", lambda world: {"what": "give", "given_by": "Jo Larkspur", "agree": "on"}),
    "home_reminder": ("g", lambda world: {"at": "17:00", "time_zone": "Europe/Lisbon", "email": "home@example.org"}),
    "copy_of_everything": ("g", lambda world: {}),
    "delete_everything": ("w", lambda world: {"name": "Pim Larkspur"}),
    "calendar_address": ("s", lambda world: {"what": "make"}),
    "equipment": ("s", lambda world: {"what": "reed", "words": "", "on": str(world.horns["s"].studio.today())}),
    "lesson_days": ("t", lambda world: {"on": str(world.horns["s"].studio.today()), "at": "16:00", "falls_out": ""}),
    "note": ("t", lambda world: {"text": "A word.", "about_try": "", "at_s": ""}),
    "comment": ("t", lambda world: {"text": "A word.", "about_try": str(world.objects["try_id"][0]), "at_s": "1"}),
    "take_word_back": ("t", lambda world: {}),
    "lesson_take": ("t", lambda world: _tone()),
    "new_demonstration": ("t", lambda world: {**_tone(), "instrument": "alto"}),
    "delete_demonstration": ("t", lambda world: {}),
    "heard": ("t", lambda world: {}),
    "week": ("t", lambda world: _week(world)),
    "milestone": ("t", lambda world: {}),
    "house_rules": ("w", lambda world: _rules()),
    "ear_answer": ("t", lambda world: {"answer": "take_back", "level": "beginner"}),
    "decide": ("t", lambda world: {"answer": "not_yet", "stage": "1", "words": "Later."}),
    "gate": ("t", lambda world: {"kind": "pause", "words": "Ill.", "on": "", "until_on": "", "stage": ""}),
    "student_rule": ("t", lambda world: {"do": "take", **_rule(world)}),
    "student_targets": ("t", lambda world: {"measure": "scoop_cents", "limit": "25", "written_midi": "", "tone": ""}),
    "many_weeks": ("t", lambda world: _many(world)),
    "agenda": ("t", lambda world: {"take": "1", "text": "Low B first.", "place": "1", "new": ""}),
    "paper": ("t", lambda world: {"days": str(world.horns["s"].studio.today())}),
    "agree": ("t", lambda world: {"said": "agree", "back": "student"}),
    "studio_rule": ("t", lambda world: {"do": "take", **_rule(world)}),
    "new_ensemble": ("t", lambda world: {"name": "New Duo", "seats": _duo(world)}),
    "ensemble_seats": ("t", lambda world: {"name": "Quay Duo", "seats": _duo(world)}),
    "new_chord": ("t", lambda world: _chord(world)),
    "take_chord_back": ("t", lambda world: {}),
    "new_routine": ("t", lambda world: _routine()),
    "routine": ("t", lambda world: _routine()),
    "turn_to": ("t", lambda world: {"place": ""}),
    "add_student": ("t", lambda world: {**SHORT, "key": str(uuid.uuid4()), "username": "another", **_no_lesson()}),
    "add_staff": ("w", lambda world: {"key": str(uuid.uuid4()), "name": "New", "username": "new", "role": "assistant"}),
    "student_codes": ("t", lambda world: {**SHORT, "how_many": "1"}),
    "staff_code": ("w", lambda world: {"role": "assistant", "name": "New", "ends_on": ""}),
    "revoke_code": ("t", lambda world: {}),
    "colleague": ("w", lambda world: {"what": "place", "role": "assistant", "ends_on": ""}),
    "person": ("t", lambda world: {"what": "details", "name": "Pim Larkspur", "ends_on": "", **_no_lesson()}),
    "home_code": ("t", lambda world: {}),
    "slip_code": ("t", lambda world: {}),
}


def _code(world: World) -> str:
    horn = {"kind": "alto", "lowest_written_midi": 58, "highest_keyed_written_midi": 90, "level": "beginner"}
    whom = Whom(role="student", horn=horn)
    return invitations.invite(whom, studio=world.horns["s"].studio, by=world.people["t"])[1]


def _sound() -> SimpleUploadedFile:
    return SimpleUploadedFile("memo.webm", belonging.SOUND, "audio/webm")


def _take(world: World) -> dict[str, Any]:
    exercise = str(world.objects["exercise_id"][0])
    plan = str(world.objects["plan_id"][0])
    return {"client_key": str(uuid.uuid4()), "exercise": exercise, "plan": plan, "slots": "0", "audio": _sound(),
            "parts": "false", "recorder": "{}"}  # fmt: skip


def _week(world: World) -> dict[str, Any]:
    today = world.horns["s"].studio.today()
    ready_made = str(next(iter(routines.table())))
    return {"routine": ready_made, "blocks": "daily_tones", "budget_minutes": "5", "beats_per_minute": "60",
            "focus": "", "words": "", "pins": [],
            "left_out": [], "starts_on": str(today), "ends_on": str(today + dt.timedelta(days=6))}  # fmt: skip


def _many(world: World) -> dict[str, Any]:
    horn = world.horns["s"]
    return {"what": "pause", "horns": str(horn.pk), "starts_on": str(horn.studio.today()), "until_on": "",
            "reason": "Holidays.", "routine": "", "budget_minutes": "5", "beats_per_minute": "", "focus": "",
            "words": ""}  # fmt: skip


def _rule(world: World) -> dict[str, Any]:
    tomorrow = world.horns["s"].studio.today() + dt.timedelta(days=1)
    numbers = {"hits": 16, "opens_at": 8, "window_days": 10, "window_span_days": 21, "notes": 2, "shuts_at": 4}
    return {**numbers, "minimum_readable": "", "ear_stages": 1, "notice_at": 6, "from_on": str(tomorrow), "words": ""}


def _routine() -> dict[str, Any]:
    return {"name": "Ours", "summary": "", "blocks": "daily_tones", "tones": "mf"}


def _duo(world: World) -> list[str]:
    return [str(world.horns[letter].pk) for letter in "so"]


def _chord(world: World) -> dict[str, Any]:
    chord = {"quality": "unison", "root": "58", "inversion": "0", "of": "unison 58 0", "notes": ["58", "58", "58"]}
    return {**chord, "do": "set", "tone": "mf", "for_on": str(world.horns["s"].studio.today()), "words": ""}


def _rules() -> dict[str, str]:
    return {"name": "Lantern Quay Studio", "time_zone": "Europe/Lisbon", "a4_hz": "440", "keep_takes_days": "60",
            "second_step_for_staff": ""}  # fmt: skip


def _no_lesson() -> dict[str, str]:
    return {"lesson_weekday": "", "lesson_at": "", "of_age": ""}


@pytest.fixture
def world(settings, tmp_path) -> World:
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, "DEFAULT_THROTTLE_CLASSES": []}
    return World()


def _tone() -> dict[str, Any]:
    """One tone, recorded by a teacher."""
    return {"key": str(uuid.uuid4()), "written_midi": "67", "tone": "mf", "words": "A word.", "audio": _sound()}


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
    return {mark: text.count(mark) + text.count(mark.replace("-", "")) for mark in (WORD, str(NUMBER), DAY, *foreign)}


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
    client.post(reverse("join"), {"code": _code(world)})
    sent = {**intruded(world), "name": "Nell Harbour", "passphrase": "otter-lamp-cedar-plum", "role": "owner"}
    assert client.post(reverse("join_as"), sent).status_code == 302
    nell = Membership.objects.get(user__name="Nell Harbour")
    assert (nell.role, nell.studio, nell.of_age, nell.ends_on) == ("student", world.horns["s"].studio, False, None)
    assert [nell.user.is_staff, nell.user.is_superuser] == [False, False]
