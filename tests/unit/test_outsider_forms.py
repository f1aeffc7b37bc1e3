"""A form that one may send, with the key of something that one may not see in a field of its own: nothing comes of it.

The address is one's own; so the access table says nothing about it.
"""

from __future__ import annotations

import uuid
from collections.abc import Iterator
from typing import Any

import pytest
from django.db import transaction
from django.test import Client
from django.urls import reverse

from tests.unit import belonging
from tests.unit.access_world import OBJECTS, World
from tests.unit.forms_sent import SENT
from tests.unit.test_access_matrix import OWN, world  # noqa: F401  # the world is a fixture

pytestmark = pytest.mark.django_db

MADE_BY_PAGES = ("membership_id", "client_key", "chord_id", "comment_id", "demonstration_id")
MORE: list[tuple[str, str, dict[str, Any], str, str]] = [  # fields that a form of SENT leaves out, and what they name
    ("t", "person", {"what": "part"}, "guardian_id", "guardian"),
    ("t", "person", {"what": "put_away"}, "horn_id", "horn_id"),
    ("t", "person", {"what": "teachers"}, "teachers", "colleague"),
    ("w", "colleague", {"what": "hand_over"}, "to", "colleague"),
    ("s", "hurts", {"tell": "no"}, "plan", "plan_id"),
    ("s", "mine", {"light": "night", "type_size": "125", "language": "de", "note_names": "fr"}, "horn", "horn_id"),
    ("t", "turn_to", {}, "place", "colleague"),
    ("t", "note", {"text": "A word."}, "key", "comment_id"),
    ("t", "ear_answer", {"answer": "on_target", "level": "beginner"}, "tone", "try_id"),
    ("t", "many_weeks", {"what": "week", "budget_minutes": "5", "picks": "own"}, "routine", "routine_id"),
    ("g", "home_kept", {}, "milestone", "take_id"),
    ("t", "student_targets", {}, "back", "try_id"),
]


def kinds(world: World) -> dict[str, list[Any]]:  # noqa: F811
    """Keys by what they name: of the student, of the other student, of the other studio."""
    players = [world.horns[letter].player for letter in OBJECTS]
    return world.objects | {"guardian": [player.guardians.get().pk for player in players]}


def sendings(world: World) -> Iterator[tuple[str, str, dict[str, Any], str, Any, bool]]:  # noqa: F811
    """Who sends, which form, what is in it, the field and the key in it that are none of theirs, and whether that field
    names something: else its key is one that the page made up, for what is to come."""
    known = kinds(world)
    for name, (who, form) in SENT.items():
        others = (1, 2) if who in "sg" else (2,)  # students of one studio see nothing of each other
        for field, value in form(world).items():
            for one in value if isinstance(value, list) else [value]:
                named = [keys for keys in known.values() if str(one) == str(keys[0])]
                for keys in named or ([known[kind] for kind in MADE_BY_PAGES] if is_key(one) else ()):
                    for place in others:
                        yield who, name, form(world), field, keys[place], bool(named)
    for who, name, body, field, kind in MORE:
        for key in known[kind][1 if who in "sg" else 2 :]:
            yield who, name, body, field, key, field != "key"


def is_key(value: Any) -> bool:
    try:
        uuid.UUID(str(value))
    except ValueError:
        return False
    return True


def test_a_key_of_others_in_a_field_of_ones_own_form_names_nothing(world) -> None:  # noqa: F811
    wrong, tried = [], set()
    before = {who: rows_of_others(world, who) for who in "sgtw"}
    for who, name, body, field, key, names_something in sendings(world):
        tried.add((name, field))
        with transaction.atomic():
            status = send(world, who, name, {**body, field: key})
            after = rows_of_others(world, who)
            transaction.set_rollback(True)
        moved = before[who] ^ after if names_something else before[who] - after
        if status >= 500 or moved:
            wrong.append(f"{who} {name}: {field}={key}: {status}, {sorted(moved)}")
    assert wrong == []
    named = {("devices", "players"), ("api-takes", "plan"), ("ensemble_seats", "seats"), ("many_weeks", "horns")}
    assert named <= tried


def rows_of_others(world: World, who: str) -> set[str]:  # noqa: F811
    """Every row, of any table, in which a key stands of what ``who`` may not see."""
    known = [str(key) for keys in kinds(world).values() for key in keys[1 if who in "sg" else 2 :]]
    marks = [mark for key in known for mark in (key, key.replace("-", ""))]
    every = (repr(row) for table, rows in belonging.tables().items() if table != "studio_session" for row in rows)
    return {row for row in every if any(mark in row for mark in marks)}


def send(world: World, who: str, name: str, body: dict[str, Any]) -> int:  # noqa: F811
    client = Client(raise_request_exception=False)
    client.force_login(world.people[who])
    answer = client.post(reverse(name, kwargs=world.keys(name, OWN[name])[0]), body)
    if answer.streaming:
        b"".join(answer.streaming_content)  # type: ignore[attr-defined]  # a streaming answer
    return answer.status_code
