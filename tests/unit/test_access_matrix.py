"""Every route, every role, every method, one's own and others' objects: as tests/unit/access_table.py has it."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from http.cookies import SimpleCookie

import pytest
from django.db import transaction
from django.http import HttpResponseBase
from django.test import Client
from django.urls import reverse

from studio.config import health
from tests.unit import belonging
from tests.unit.access_table import TABLE
from tests.unit.access_world import ROLES, World, routes

pytestmark = pytest.mark.django_db

IN, NOT_THERE, SIGN_IN, FORBIDDEN, REFUSED = "y.l3-"
DOORS = ("/sign-in/", "/support/login/")
ROUTES = dict(routes())
OWN = {name: parameters for name, parameters in ROUTES.items() if not name.startswith("admin:")}
LOGS = {"studio_session", "studio_logrow", "assignments_hearing"}
NEVER_READ = {  # names that a page for this role must not hold
    "a": ("Larkspur", "Fenn", "Dale", "Oakhanger", "Keel"),
    "s": ("Fenn", "Dale", "Brand", "Wrenfield"),
    "o": ("Larkspur", "Dale", "Brand", "Wrenfield"),
    "g": ("Fenn", "Dale", "Brand"),
    "h": ("Larkspur", "Dale", "Brand"),
    "i": ("Dale", "Brand"),
    "t": ("Dale", "Brand"),
    "x": ("Larkspur", "Fenn", "Oakhanger", "Keel"),
    "w": ("Dale", "Brand"),
    "f": ("Larkspur", "Fenn", "Dale", "Oakhanger", "Keel"),
}


def read(table: str) -> dict[tuple[str, str], dict[str, str]]:
    lines = [line.split() for line in table.splitlines() if line and not line.startswith("#")]
    header = lines[0][2:]
    assert header == list(ROLES)
    return {(name, method): dict(zip(header, cells, strict=True)) for name, method, *cells in lines[1:]}


EXPECTED = read(TABLE)


@pytest.fixture
def world(settings, tmp_path, monkeypatch) -> World:
    monkeypatch.setattr(health, "DEADLINE_S", 60)  # who may ask, not how fast a busy machine answers
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    settings.REST_FRAMEWORK = {**settings.REST_FRAMEWORK, "DEFAULT_THROTTLE_CLASSES": []}
    settings.PUSH = True
    return World()


class Visitor:
    """Somebody who asks again and again, each time as if for the first."""

    def __init__(self, world: World, role: str) -> None:
        self.client = Client()
        if role != "a":
            self.client.force_login(world.people[role])
        self.cookies = {name: morsel.value for name, morsel in self.client.cookies.items()}

    def ask(self, method: str, name: str, keys: dict[str, object], body: str = "") -> HttpResponseBase:
        """What is done is undone afterwards."""
        self.client.cookies = SimpleCookie(self.cookies)
        kind = "application/octet-stream" if method == "PATCH" else "application/x-www-form-urlencoded"
        with transaction.atomic():
            answer = self.client.generic(method, reverse(name, kwargs=keys), body, kind)
            if answer.streaming:
                b"".join(answer.streaming_content)  # type: ignore[attr-defined]  # a streaming answer
            transaction.set_rollback(True)
        return answer


def sign(answer: HttpResponseBase) -> str:
    if answer.status_code == 302 and answer.headers["Location"].split("?")[0] in DOORS:
        return SIGN_IN
    known = {403: FORBIDDEN, 404: NOT_THERE, 405: REFUSED}
    return known.get(answer.status_code, IN if answer.status_code < 500 else f"!{answer.status_code}")


def test_every_route_has_its_lines_in_the_table_and_every_line_its_route():
    assert {name for name, _method in EXPECTED} == set(OWN)


BY_KEY = {  # whoever holds the key gets in, or nobody but the one it belongs to
    "api-upload": "a key of somebody else's is one that isn't known",
    "reminder_confirm": "the address is signed: whoever gets the letter says yes without signing in",
    "reminder_stop": "the address is signed: whoever gets the note ends it without signing in",
    "calendar_feed": "the address is the secret: calendars can't sign in",
}


def test_the_table_itself_lets_nobody_into_another_studio():
    for (name, method), cells in EXPECTED.items():
        for role, cell in cells.items():
            if len(cell) == 3 and name not in BY_KEY:
                assert IN not in (cell[:2] if role == "x" else cell[2]), (name, method, role)
                assert role not in "af" or IN not in cell, (name, method, role)


@pytest.mark.parametrize("role", ROLES, ids=ROLES.values())
def test_each_role_gets_what_the_table_says(world, role):
    visitor = Visitor(world, role)
    wrong = []
    for (name, method), cells in EXPECTED.items():
        got = "".join(sign(visitor.ask(method, name, keys)) for keys in world.keys(name, OWN[name]))
        if got != cells[role]:
            wrong.append(f"{name} {method}: {got}, not {cells[role]}")
    assert wrong == []


@pytest.mark.parametrize("role", ROLES, ids=ROLES.values())
def test_a_method_without_a_line_does_nothing(world, role):
    visitor = Visitor(world, role)
    for name, parameters in OWN.items():
        keys = world.keys(name, parameters)[0]
        for method in {"GET", "POST", "PUT", "PATCH", "DELETE", "TRACE"} - {m for n, m in EXPECTED if n == name}:
            got = sign(visitor.ask(method, name, keys))
            if name == "sign-in" and role != "a":
                assert got == IN  # whoever is signed in is sent on to the start, however they ask
            else:
                assert got == REFUSED or (role == "a" and got in (SIGN_IN, FORBIDDEN)), (name, method, got)


def visible(world: World, role: str) -> Iterator[tuple[str, dict[str, object]]]:
    """The pages that this role may read, with the keys it may read them under."""
    for (name, method), cells in EXPECTED.items():
        if method == "GET":
            for keys, expected in zip(world.keys(name, OWN[name]), cells[role], strict=True):
                if expected == IN:
                    yield name, keys


@pytest.mark.parametrize("role", ROLES, ids=ROLES.values())
def test_reading_changes_nothing_and_shows_nobody_elses(world, role):
    visitor = Visitor(world, role)
    for name, keys in visible(world, role):
        visitor.client.cookies = SimpleCookie(visitor.cookies)
        before = fingerprints()
        answer = visitor.client.get(reverse(name, kwargs=keys))
        content = b"".join(answer.streaming_content) if answer.streaming else answer.content
        after = fingerprints()
        assert {table for table in before if before[table] != after[table]} <= LOGS, name
        assert [word for word in NEVER_READ[role] if word.encode() in content] == [], name


def fingerprints() -> dict[str, str]:
    return {table: hashlib.sha256(repr(rows).encode()).hexdigest() for table, rows in belonging.tables().items()}


def test_the_first_look_at_a_day_lays_its_plan_and_changes_nothing_else(world):
    """The one page whose reading writes: the day's tones, the same for whoever looks first (plans.plan_for)."""
    world.horns["s"].day_plans.all().delete()
    visitor = Visitor(world, "s")
    before = fingerprints()
    assert visitor.client.get(reverse("today")).status_code == 200
    after = fingerprints()
    assert {table for table in before if before[table] != after[table]} - LOGS == {"assignments_dayplan"}


@pytest.mark.parametrize("role", ROLES, ids=ROLES.values())
def test_the_support_pages_are_for_support_alone(world, role):
    visitor = Visitor(world, role)
    names = [(name, parameters) for name, parameters in ROUTES.items() if name.startswith("admin:")]
    assert len(names) > 50
    for name, parameters in names:
        if name in ("admin:login", "admin:logout", "admin:None"):
            continue
        keys = {"app_label": "studio"} if name == "admin:app_list" else dict.fromkeys(parameters, "1")
        assert sign(visitor.ask("GET", name, keys)) == SIGN_IN, name
