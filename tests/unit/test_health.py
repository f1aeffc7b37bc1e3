"""The machine next door is told the truth, quickly, whatever hangs."""

from __future__ import annotations

import threading
import time
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from django.db import connection
from django.test import Client
from django.utils import timezone

from analysis.models import Analysis
from studio.config import health


def asked(client: Client) -> Any:
    """The answer to /readyz once every part has given one: a busy machine may take longer than the first deadline."""
    ends = time.monotonic() + 20
    while "no answer" in (answer := client.get("/readyz")).json().values():
        assert time.monotonic() < ends, answer.json()
    return answer


@pytest.mark.django_db
def test_the_process_says_that_it_lives_without_asking_anybody(client: Client, django_assert_num_queries: Any) -> None:
    with django_assert_num_queries(0):
        answer = client.get("/healthz")
    assert (answer.status_code, answer.content) == (200, b"alive\n")


@pytest.mark.both_databases
@pytest.mark.django_db(transaction=True)
def test_every_part_is_named_and_works(client: Client) -> None:
    answer = asked(client)
    assert answer.json() == dict.fromkeys(["database", "migrations", "broker", "store", "queue"], "ok")
    assert answer.status_code == 200


@pytest.mark.django_db(transaction=True)
def test_a_take_that_waits_too_long_is_said(client: Client) -> None:
    Analysis.objects.create(
        audio_bytes=1, sha256="0" * 64, request={}, created_at=timezone.now() - timedelta(minutes=6)
    )
    answer = asked(client)
    assert answer.status_code == 503
    assert "worker" in answer.json()["queue"]


@pytest.mark.django_db(transaction=True)
def test_a_store_that_is_away_is_named_without_its_place(client: Client, settings: Any, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path / "gone"
    answer = asked(client)
    assert answer.status_code == 503
    assert answer.json()["store"] == "FileNotFoundError"
    assert "gone" not in answer.content.decode()


def test_parts_that_hang_are_named_soon_and_asked_again_when_they_have_answered() -> None:
    released = threading.Event()

    def first() -> None:
        released.wait(60)

    def second() -> None:
        released.wait(60)

    begun = time.monotonic()
    assert health.readiness((first, second)) == {"first": "no answer", "second": "no answer"}
    assert time.monotonic() - begun < 20  # of the minute for which they hang
    released.set()
    while health.readiness((first, second)) != {"first": "ok", "second": "ok"}:
        assert time.monotonic() - begun < 40


@pytest.mark.django_db(transaction=True)
def test_a_database_that_was_not_migrated_is_said(client: Client) -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT app, name, applied FROM django_migrations WHERE app = 'analysis'")
        rows = cursor.fetchall()
        cursor.execute("DELETE FROM django_migrations WHERE app = 'analysis'")
    try:
        assert asked(client).json()["migrations"] == "run: manage.py migrate"
    finally:
        with connection.cursor() as cursor:
            cursor.executemany("INSERT INTO django_migrations (app, name, applied) VALUES (%s, %s, %s)", rows)
