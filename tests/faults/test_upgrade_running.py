"""A site is brought up to date while phones go on sending: the last release's code writes as the tables change."""

from __future__ import annotations

import threading
import uuid
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest
from django.core.management import call_command
from django.db import connections
from django.db.migrations.loader import MigrationLoader
from django.utils import timezone

from analysis.models import Analysis
from assignments import takes
from assignments.models import Take
from tests import builders, people
from tests.faults.serving import wait_until
from tests.released import LEAVES

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]


@pytest.fixture
def week(empty_queue: None):
    where = people.studio()
    return builders.week(people.horn(where), people.teacher(where).user)


@pytest.fixture
def exercise(week: Any) -> Any:
    return builders.daily(week)


@pytest.fixture
def tables_of_the_last_release(exercise: Any) -> Iterator[None]:
    """What was written by today's code is there already, as far as the older tables have room for it."""
    try:
        for app, leaf in LEAVES.items():
            call_command("migrate", app, leaf, verbosity=0)
        yield
    finally:
        call_command("migrate", verbosity=0)


def receive_with_the_old_code(
    horn: uuid.UUID, exercise: uuid.UUID, over: threading.Event, written: set[uuid.UUID]
) -> None:
    """Take after take, each received, claimed, measured and settled; their keys into ``written``. Raises whatever goes
    wrong."""
    old = MigrationLoader(None).project_state(list(LEAVES.items())).apps
    old_takes, analyses = old.get_model("assignments", "Take"), old.get_model("analysis", "Analysis")
    try:
        while not over.is_set():
            now = timezone.now()
            analysis = analyses.objects.create(audio="", audio_bytes=1, sha256="0" * 64, request={})
            take = old_takes.objects.create(
                horn_id=horn, exercise_id=exercise, analysis=analysis, on=now.date(), client_key=uuid.uuid4(),
                asked=[], received_at=now,
            )  # fmt: skip
            assert (
                analyses.objects.filter(pk=analysis.pk, state="queued").update(state="measured", measured_at=now) == 1
            )
            take.settled_at = now
            take.save()
            written.add(old_takes.objects.get(client_key=take.client_key).pk)
    finally:
        connections.close_all()


@pytest.mark.usefixtures("tables_of_the_last_release")
def test_no_take_of_the_old_code_fails_or_is_lost_while_the_tables_change(week, exercise, monkeypatch):
    monkeypatch.setattr(takes, "MOST_A_DAY", 1_000_000)  # the longer the tables take, the more come in
    over, written = threading.Event(), set[uuid.UUID]()
    with ThreadPoolExecutor(1) as pool:
        writing = pool.submit(receive_with_the_old_code, week.horn_id, exercise.pk, over, written)
        try:
            assert wait_until(lambda: bool(written) or writing.done(), 120)
            call_command("migrate", verbosity=0)
            new = builders.take(week, b"RIFF of a sort")  # the new code, beside the old
            assert wait_until(lambda: len(written) > 10 or writing.done(), 120)  # it goes on with the tables of today
        finally:
            over.set()
        writing.result()
    assert set(Take.objects.values_list("pk", flat=True)) == written | {new.pk}
    assert set(Analysis.objects.exclude(take=new).values_list("state", flat=True)) == {"measured"}
