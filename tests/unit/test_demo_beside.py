"""The demo students play in the demo studio alone, whoever else is on the site, and whatever they are called."""

from __future__ import annotations

import pytest

from assignments.demo import beside, cast, clearing, playing, showing
from assignments.models import Decision, Demonstration, Take
from studio.models import Membership, Studio, User
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def laid(settings) -> Studio:
    settings.DEMO_SIGN_INS_FILE, settings.DEMO_UNPLAYED_FILE = settings.VAR / "sign-ins.txt", settings.VAR / "unplayed"
    cast.make_people()
    return Studio.objects.get(pk=cast.studio_id())


@pytest.fixture
def sent(monkeypatch) -> list[Studio]:
    """To which studio something would have been sent."""
    went: list[Studio] = []

    def note(horn, *_args: object) -> None:
        went.append(horn.player.studio)

    for module in (playing, beside):
        monkeypatch.setattr(module, "send", note)
        monkeypatch.setattr(module, "recording", lambda *_args: b"")
        monkeypatch.setattr(module, "wait_for", lambda _sent: None)
    monkeypatch.setattr(showing, "_recording", lambda studio, *_args: went.append(studio) or b"any bytes")
    return went


def another_studio(student: str) -> Studio:
    """With an owner since long ago, and a student of that user name who was set a week."""
    where = people.studio("Saltmarsh Studio")
    owner = people.person("Orla Keel", where, Membership.Role.OWNER).user
    horn = people.horn(where, "Ines Calder")
    User.objects.filter(pk=horn.player.user_id).update(username=student)
    builders.week(horn, owner)
    return where


def play() -> None:
    showing.show()
    playing.play_the_past(lambda _line: None)
    beside.play_beside()


def test_beside_another_studio_they_play_in_their_own(laid, sent):
    another_studio("ines")
    play()
    assert set(sent) == {laid}
    assert {row.studio for row in Demonstration.objects.all()} == {laid}


def test_once_they_are_gone_nobody_plays_though_somebody_has_the_name_of_one(laid, sent):
    clearing.clear(laid)
    another_studio(cast.players()[0].user_name)
    play()
    assert sent == []
    assert [model for model in (Take, Demonstration, Decision) if model.objects.exists()] == []
