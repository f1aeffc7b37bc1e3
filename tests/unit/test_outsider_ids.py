"""Whatever key of another studio somebody has come by opens nothing, and nothing tells it from a key of nobody's.

Status, words, headers and the number of questions to the database are those of a key that was made up: so neither an
answer nor the time that it takes says whether something is there.
"""

from __future__ import annotations

import re
import uuid
from collections import Counter, defaultdict
from itertools import islice
from typing import Any

import pytest
from django.apps import apps
from django.db import connection, transaction
from django.test import Client
from django.urls import reverse

from tests.unit.access_world import World
from tests.unit.test_access_matrix import BY_KEY, EXPECTED, OWN, world  # noqa: F401  # the world is a fixture
from tests.unit.test_outsider import signed_in, text_of, walk

pytestmark = pytest.mark.django_db

KEY = re.compile(r"[0-9a-f]{8}-(?:[0-9a-f]{4}-){3}[0-9a-f]{12}")
PAGES = 60  # of each; a start page and what it leads to hold every kind of key
EVERY_TIME_ANOTHER = re.compile(r'name="csrfmiddlewaretoken" value="\w+"|' + KEY.pattern)
ASKING = {"teacher of another studio": "x", "student of another studio": "y"}


def found(world: World) -> list[str]:  # noqa: F811
    """Keys of the studio, in any page, address, header or API answer that its own people get: one of every kind."""
    seen: set[str] = set()
    for letter in "sgtw":  # student, guardian, teacher, owner
        client = signed_in(world.people[letter])
        for path, _status, text in islice(walk(client), PAGES):
            seen |= set(KEY.findall(path + text))
        answer = client.get(reverse("api-takes"))
        seen |= set(KEY.findall(text_of(answer) + str(answer.headers)))
    kinds = defaultdict(list)
    for key in sorted(seen):
        kinds[kind_of(key)].append(key)
    assert {"Membership", "Horn", "Take", "Try", "Exercise", "Routine", "DayPlan"} <= kinds.keys(), kinds.keys()
    return [key for name, keys in kinds.items() if name for key in keys[:1]]


def kind_of(key: str) -> str:
    """The model whose row has this key; nothing for one that is no row: of a request, or just made up."""
    for name in ("studio", "assignments", "analysis"):
        for model in apps.get_app_config(name).get_models():
            is_named_so = model._meta.pk.get_internal_type() == "UUIDField"
            if is_named_so and model._default_manager.filter(pk=key).exists():
                return model.__name__
    return ""


def answer(client: Client, method: str, name: str, key: str) -> tuple[Any, ...]:
    """All that can be told of it, and how often the database was asked. What is done is undone."""
    (parameter,) = OWN[name]
    kind = "application/octet-stream" if method == "PATCH" else "application/x-www-form-urlencoded"
    asked = Counter[str]()

    def count(execute: Any, sql: str, *more: Any) -> Any:
        asked["times"] += 1
        return execute(sql, *more)

    with transaction.atomic(), connection.execute_wrapper(count):
        said = client.generic(method, reverse(name, kwargs={parameter: key}), "", kind)
        text = text_of(said)
        transaction.set_rollback(True)
    headers = {header: value for header, value in said.headers.items() if header not in ("X-Request-ID", "Location")}
    where = EVERY_TIME_ANOTHER.sub("", said.headers.get("Location", ""))
    return said.status_code, EVERY_TIME_ANOTHER.sub("", text), headers, where, asked["times"]


def test_a_key_of_another_studio_is_answered_like_one_of_nobodys(world) -> None:  # noqa: F811
    keys, told = found(world), []
    routes = [(name, method) for name, method in EXPECTED if len(OWN[name]) == 1 and name not in BY_KEY]
    for who, letter in ASKING.items():
        client = signed_in(world.people[letter])
        for name, method in routes:
            nobodys = answer(client, method, name, str(uuid.uuid4()))
            differ = [key for key in keys if answer(client, method, name, key) != nobodys]
            told += [f"{who}: {method} {name}, the key of a {kind_of(key)}" for key in differ]
    assert told == []


def test_whoever_belongs_there_gets_another_answer_than_for_a_key_of_nobodys(world) -> None:  # noqa: F811
    client, horn = signed_in(world.people["t"]), str(world.horns["s"].pk)
    assert answer(client, "GET", "student", horn) != answer(client, "GET", "student", str(uuid.uuid4()))
