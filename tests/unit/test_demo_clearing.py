"""The demo studio goes again: everything of it, and nothing else."""

from __future__ import annotations

import uuid
from io import StringIO
from pathlib import Path

import pytest
from django.apps import apps
from django.core.files.base import ContentFile
from django.core.management import call_command
from django.core.management.base import CommandError

from assignments import demonstrations, routines
from assignments.demo import cast
from studio.models import Membership, Studio, User
from tests import people, sine

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def laid(settings) -> Studio:
    settings.DEMO_SIGN_INS_FILE, settings.DEMO_UNPLAYED_FILE = settings.VAR / "sign-ins.txt", settings.VAR / "unplayed"
    settings.DEMO_UNPLAYED_FILE.touch()
    cast.make_people()
    return Studio.objects.get(pk=cast.studio_id())


def counts() -> dict[str, int]:
    return {model.__name__: model._default_manager.count() for model in apps.get_models()}


def remove(*more: str) -> str:
    said = StringIO()
    call_command("demo_studio", "--remove", *more, stdout=said)
    return said.getvalue()


def test_it_goes_with_all_its_rows_and_sounds_and_nobody_elses(settings, request, django_capture_on_commit_callbacks):
    own = people.horn(people.studio("Saltmarsh Studio"), "Ines Calder")
    list(routines.ready_made())  # these are the site's, not the demo's
    before = counts()
    studio = request.getfixturevalue("laid")
    demonstrations.keep(
        studio, by=User.objects.get(username="marisa"), instrument="alto", written_midi=69, tone="mf",
        audio=ContentFile(sine.sound(1.0, 24_000), "a.wav"), key=uuid.uuid4(),
    )  # fmt: skip
    assert [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]
    with django_capture_on_commit_callbacks(execute=True):
        assert "is gone" in remove()
    assert counts() == before
    assert not [path for path in Path(settings.MEDIA_ROOT).rglob("*") if path.is_file()]
    assert not settings.DEMO_SIGN_INS_FILE.exists()
    assert not settings.DEMO_UNPLAYED_FILE.exists()
    assert own.player.user.is_active


def test_whoever_came_in_since_is_named_before_anything_is_lost(laid):
    people.person("Ines Calder", laid, Membership.Role.STUDENT)
    with pytest.raises(CommandError, match="Ines Calder came into the demo studio since"):
        remove()
    assert Studio.objects.filter(pk=laid.pk).exists()
    remove("--newcomers-too")
    assert not User.objects.exists()


def test_who_works_elsewhere_too_stays(laid):
    marisa = User.objects.get(username="marisa")
    Membership.objects.create(user=marisa, studio=people.studio("Saltmarsh Studio"), role="owner")
    assert "marisa) has a place elsewhere and stays, with the demo's passphrase" in remove()
    assert [user.username for user in User.objects.all()] == ["marisa"]


def test_without_one_it_says_so():
    with pytest.raises(CommandError, match="no demo studio"):
        remove()
