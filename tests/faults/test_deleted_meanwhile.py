"""A student is deleted while something of theirs comes in or is settled: who is second waits, nobody for ever."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import pytest
from django.core.files.base import ContentFile
from django.db import connections
from django.db.models.signals import post_delete
from django.utils import timezone

from analysis.models import Analysis
from assignments import erasure, scanning, settling, takes
from assignments.exercises import Slot
from assignments.models import Take, Week
from assignments.refusals import Refusal
from studio.models import User
from tests import builders, people

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

MEETS_WITHIN_S = 2


@pytest.fixture
def week(empty_queue, settings, tmp_path: Path) -> Week:
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    where = people.studio()
    return builders.week(people.horn(where), people.teacher(where).user)


class HalfWay:
    """Where two who hold rows stop, until the other is there too, or can't get there because it waits for these."""

    def __init__(self) -> None:
        self.both = threading.Barrier(2)

    def stop(self, *_args: object, **_named: object) -> None:
        with suppress(threading.BrokenBarrierError):
            self.both.wait(MEETS_WITHIN_S)

    def before(self, work: Callable[..., Any]) -> Callable[..., Any]:
        def stopped(*args: object, **named: object) -> Any:
            self.stop()
            return work(*args, **named)

        return stopped


@contextmanager
def beside(work: Callable[[], object]) -> Iterator[None]:
    """``work`` goes on in another thread meanwhile; what it raises is raised at the end."""

    def and_hang_up() -> None:
        try:
            work()
        finally:
            connections.close_all()

    with ThreadPoolExecutor(1) as other:
        done = other.submit(and_hang_up)
        yield
        done.result()


def send(week: Week) -> None:
    takes.submit(
        horn=week.horn, exercise=builders.daily(week), on=week.horn.studio.today(), slots=[Slot(0, 67, "mf")],
        client_key=uuid.uuid4(), audio=ContentFile(b"any bytes", name="take"), recorder={},
    )  # fmt: skip


def is_gone(week: Week) -> bool:
    left = User.objects.filter(pk=week.horn.player.user_id).exists() or Take.objects.exists()
    return not left and not Analysis.objects.exists()


def test_a_recording_that_comes_in_meanwhile_is_refused_or_deleted_too(week, monkeypatch) -> None:
    half_way = HalfWay()
    monkeypatch.setattr(erasure, "_delete_work", half_way.before(erasure._delete_work))
    room, asked = takes.has_room_today, []

    def has_room(*args: Any) -> None:
        asked.append(args)
        if len(asked) == 2:  # before that nothing is held
            half_way.stop()
        room(*args)

    monkeypatch.setattr(takes, "has_room_today", has_room)
    with beside(lambda: erasure.erase(week.horn.player, by=None)), suppress(Refusal):
        send(week)
    assert is_gone(week)


def test_one_that_comes_in_afterwards_is_refused_in_words(week, monkeypatch) -> None:
    """Deleted after the first look at the permission, and before the row is written."""
    monkeypatch.setattr(scanning, "look_through", lambda _audio: erasure.erase(week.horn.player, by=None))
    with pytest.raises(Refusal, match="Ask at home first"):
        send(week)
    assert is_gone(week)


def test_a_take_that_is_settled_meanwhile_is_deleted_all_the_same(week, monkeypatch) -> None:
    half_way = HalfWay()
    take = builders.take(week, b"any bytes")
    over = {"state": Analysis.State.REFUSED, "fault_code": "empty", "measured_at": timezone.now()}
    Analysis.objects.filter(pk=take.analysis_id).update(**over)
    tries = settling._tries

    def stopped(of: Take) -> list[Any]:
        half_way.stop()
        return list(tries(of))

    monkeypatch.setattr(settling, "_tries", stopped)
    post_delete.connect(half_way.stop, sender=Take)
    try:
        with beside(lambda: erasure.erase(week.horn.player, by=None)):
            settling.settle(take.analysis_id)
    finally:
        post_delete.disconnect(half_way.stop, sender=Take)
    assert is_gone(week)
