"""Every page of everybody in a language that nobody speaks: no words are left that a translator never saw."""

from __future__ import annotations

import re
from collections.abc import Iterator

import pytest
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from django.utils.translation import gettext

from assignments.models import Agenda, Ensemble, Routine
from studio.models import Consent, Device, Studio, User
from tests.unit import belonging, pseudo
from tests.unit.access_world import ROLES, World
from tests.unit.test_access_matrix import visible, world

__all__ = ["world"]  # the fixture
pytestmark = pytest.mark.django_db

ERRORS = ("400.html", "403.html", "403_csrf.html", "404.html", "500.html")
SAID = re.compile(rf"{belonging.WORD}( \w+){{0,2}}")  # by the cast, as people do
SIGNS = {"pp", "ppp", "mp", "mf", "ff", "fff"}  # of music
SAME_EVERYWHERE = {"footing", "hz", "db", "ms", "utc", "pdf", "csv", "pin", "en", "deutsch", "english", "français"}
NOTES = {"do", "ré", "mi", "la", "si"}  # in the choice of note names
SOUND = {"take_audio", "demonstration_audio", "voice_audio"}
FOR_PROGRAMS = SOUND | {"alive", "ready", "api-schema", "service_worker", "numbers", "api-page"}


def given(world: World) -> set[str]:
    """Words that people gave: names, notes and what belongs to them."""
    texts = [f"{user.name} {user.username}" for user in User.objects.all()]
    texts += [f"{studio.name} {studio.time_zone}" for studio in Studio.objects.all()]
    texts += [device.name for device in Device.objects.all()]
    texts += [ensemble.name for ensemble in Ensemble.objects.all()]
    texts += [point for agenda in Agenda.objects.all() for point in agenda.points]
    texts += [consent.given_by for consent in Consent.objects.all()]
    texts += ["rows"]  # the name of an engine
    texts += [f"{routine.name} {routine.summary}" for routine in Routine.objects.filter(studio__isnull=False)]
    return {word.lower() for text in texts for word in pseudo.LETTERS.findall(text)}


def pages(world: World, role: str) -> Iterator[tuple[str, str]]:
    client = Client()
    if role != "a":
        client.force_login(world.people[role])
    for name, keys in visible(world, role):
        if name.startswith("api-") or name in FOR_PROGRAMS:
            continue
        answer = client.get(reverse(name, kwargs=keys))
        if not answer.streaming and "text/html" in answer.headers.get("Content-Type", ""):
            yield name, SAID.sub("", answer.content.decode())


def test_every_word_of_every_page_was_shown_to_translators(world):
    allowed = given(world) | SIGNS | SAME_EVERYWHERE | NOTES
    found: set[str] = set()
    seen: set[str] = set()
    with pseudo.spoken():
        for role in ROLES:
            for name, page in pages(world, role):
                seen.add(name)
                found |= {f"{name}, {text}" for text in pseudo.unmarked(page, allowed)}
    assert sorted(found) == []
    assert len(seen) > 40


@pytest.mark.parametrize("name", ERRORS)
def test_every_word_of_every_error_page_was_shown_to_translators(name):
    with pseudo.spoken():
        assert pseudo.unmarked(render_to_string(name), SAME_EVERYWHERE) == []


def test_what_is_not_marked_is_found():
    with pseudo.spoken():
        page = f'<p aria-label="bare">{gettext("Sign in")} now</p><script>let it = "be"</script>'
    assert pseudo.unmarked(page, set()) == ["p aria-label: bare", "p: ⟦Sign in⟧ now"]
    assert pseudo.unmarked(page, {"bare", "now"}) == []
