"""Somebody with accounts in two places finds with the one nothing of the other's, whatever is tried.

Each of the two walks through everything that their own pages lead to; then each asks for all that the other saw.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from urllib.parse import urljoin, urlsplit

import pytest
from django.test import Client

from studio.models import Membership, User
from tests import people
from tests.unit import belonging

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store")]
MARKS = ("Zephyrine", "marmalade-lighthouse", "Ottoline")
LINK = re.compile(r'(?:href|src|action)="([^"#]+)')
LEAVES_ALONE = ("/sign-out/", "/static/", "/support/")
MOST_PAGES = 300
MOST_QUERIES = 3  # of one path


@pytest.fixture
def theirs(studio, teacher) -> dict[str, User]:
    """The marked studio: every table holds something of its student."""
    horn = belonging.student(studio, teacher)
    guardian = Membership.objects.filter(wards=horn.player).first()
    assert guardian is not None
    owner = people.person("Zinnia Owner", studio, people.Role.OWNER)
    return {"student": horn.player.user, "guardian": guardian.user, "teacher": teacher, "owner": owner.user}


@pytest.fixture
def mine() -> dict[str, User]:
    """Another studio with the same kinds of people, and nothing marked."""
    where = people.studio("Salt Lane Studio")
    horn = people.horn(where, "Wren Harrow")
    guardian = people.person("Rowan Harrow", where, people.Role.GUARDIAN)
    guardian.wards.add(horn.player)
    return {
        "student": horn.player.user,
        "guardian": guardian.user,
        "teacher": people.teacher(where, "Quill Marsh").user,
        "owner": people.person("Sorrel Marsh", where, people.Role.OWNER).user,
    }


def is_marked(text: str) -> bool:
    return any(mark in text for mark in MARKS)


def signed_in(user: User) -> Client:
    client = Client()
    client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    return client


def text_of(answer) -> str:  # type: ignore[no-untyped-def]  # any answer of the test client
    content = b"".join(answer.streaming_content) if answer.streaming else answer.content
    return content.decode("utf-8", "replace")


def walk(client: Client) -> Iterator[tuple[str, int, str]]:
    """Address, status and text of every page that leads on from the start page."""
    waiting, seen = ["/"], {"/"}
    asked: Counter[str] = Counter()
    while waiting:
        path = waiting.pop(0)
        answer = client.get(path)
        text = text_of(answer)
        yield path, answer.status_code, text
        further = [answer.url] if answer.status_code == 302 else LINK.findall(text)
        for found in further:
            whole = urlsplit(urljoin(f"http://testserver{path}", found.replace("&amp;", "&")))
            address = whole.path + (f"?{whole.query}" if whole.query else "")
            if whole.netloc == "testserver" and address not in seen and not address.startswith(LEAVES_ALONE):
                seen.add(address)
                asked[whole.path] += 1
                if asked[whole.path] > MOST_QUERIES:  # months lead to earlier months without end
                    continue
                waiting.append(address)
        assert len(seen) < MOST_PAGES


@pytest.mark.parametrize("role", ["student", "guardian", "teacher", "owner"])
def test_the_other_account_finds_nothing(theirs, mine, role) -> None:
    seen = list(walk(signed_in(theirs[role])))
    assert any(is_marked(text) for _path, _status, text in seen), "nothing marked was seen: the test is not testing"
    outsider = signed_in(mine[role])
    own = {path for path, _status, text in walk(outsider) if not is_marked(text)}
    for path, status, _text in seen:
        answer = outsider.get(path)
        assert not is_marked(text_of(answer)), path
        if path not in own and re.search(r"[0-9a-f]{8}-[0-9a-f]{4}", urlsplit(path).path) and status == 200:
            assert answer.status_code == 404, path


@pytest.mark.parametrize("role", ["student", "guardian", "teacher", "owner"])
def test_own_pages_lead_to_nothing_of_the_others(theirs, mine, role) -> None:
    seen = list(walk(signed_in(mine[role])))
    assert len(seen) > 5, "nothing was opened: the test is not testing"
    for path, status, text in seen:
        assert not is_marked(text), path
        assert status < 500, path


def test_without_an_account_nothing_is_found(theirs) -> None:
    paths = [path for path, _status, _text in walk(signed_in(theirs["owner"]))]
    for path in paths:
        assert not is_marked(text_of(Client().get(path))), path
