"""No take waits for the clearing up: what can't be deleted, or breaks, holds up nothing else."""

from __future__ import annotations

import datetime as dt
import uuid
from pathlib import Path

import pytest
from django.core.cache import cache
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from analysis import custody, discarding
from analysis.models import Analysis, Discarded
from assignments import keeping, reminders, sweeper
from tests import builders, people

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store", "empty_queue")]


@pytest.fixture
def lapsed(studio, teacher) -> Analysis:
    """A take whose worker has died."""
    analysis = builders.take(builders.week(people.horn(studio), teacher), b"any bytes").analysis
    custody.claim(str(analysis.pk))
    Analysis.objects.update(lease_until=timezone.now() - dt.timedelta(minutes=1))
    return analysis


def in_the_way(name: str) -> None:
    """Something stands there that the store can't delete."""
    (Path(default_storage.path(name)) / "inside").mkdir(parents=True)


def test_a_file_that_cannot_be_deleted_holds_up_no_take_and_no_other_file(lapsed):
    in_the_way("ab/stuck")
    later = default_storage.save("cd/later", ContentFile(b"any bytes"))
    discarding.note(["ab/stuck", later])
    assert sweeper.sweep().handed_back == 1
    assert not default_storage.exists(later)
    assert [one.name for one in Discarded.objects.all()] == ["ab/stuck"]


@pytest.mark.parametrize("broken", [(keeping, "tidy"), (reminders, "send_due"), (discarding, "clear")])
def test_what_breaks_in_the_clearing_up_is_told_after_everything_else_was_done(lapsed, monkeypatch, broken):
    done: list[str] = []

    def breaks() -> None:
        raise RuntimeError("a broken broom")

    for module, name in ((keeping, "tidy"), (reminders, "send_due"), (discarding, "clear")):
        monkeypatch.setattr(module, name, breaks if (module, name) == broken else lambda name=name: done.append(name))
    cache.delete_many(["tidied", "reminded"])
    with pytest.raises(RuntimeError, match="a broken broom"):
        sweeper.sweep()
    assert len(done) == 2
    assert Analysis.objects.get(pk=lapsed.pk).state == Analysis.State.QUEUED
    assert sweeper.note_file().exists()


def test_a_file_that_somebody_else_deletes_just_now_ends_no_tidying(monkeypatch):
    gone = f"ab/{uuid.uuid4()}"
    kept = keeping._stored
    monkeypatch.setattr(keeping, "_stored", lambda: iter([gone, *kept()]))
    assert keeping.tidy()["orphans"] == 0
