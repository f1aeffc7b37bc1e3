"""The walk of a take while things die: real broker, real worker, real sound."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest
from celery import current_app
from django.conf import settings
from django.db import connection
from kombu import pools

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from assignments import sending, sweeper
from assignments.exercises import Slot
from assignments.models import Take, Try
from tests import builders, people, servers

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

G4_MF = (Slot(0, 67, "mf"),)
ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def tone(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Four seconds of a steady written G4, as a phone sends it."""
    file = tmp_path_factory.mktemp("sound") / "g4.webm"
    write(file, render([ToneSpec(written_midi=67, dynamic="mf")], "alto", seed=5)[0], "webm")
    return file.read_bytes()


@pytest.fixture(scope="module")
def long_take(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    """Six minutes: long enough to be killed in the middle of."""
    file = tmp_path_factory.mktemp("sound") / "long.webm"
    samples, _ = render([ToneSpec(written_midi=67, dynamic="mf", seconds=90.0)] * 4, "alto", seed=6)
    write(file, samples, "webm")
    return file.read_bytes()


@pytest.fixture
def week(empty_queue):
    studio = people.studio()
    return builders.week(people.horn(studio), people.teacher(studio).user)


def start_worker(broker_url: str | None = None) -> subprocess.Popen[bytes]:
    """A Celery worker on the test's own database and broker."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TESTS_DATABASE": str(connection.settings_dict["NAME"])}
    if broker_url:
        environment["REDIS_URL"] = broker_url
    command = [
        sys.executable,
        "-m",
        "celery",
        "--app=tests.worker",
        "worker",
        "--concurrency=1",
        "--without-gossip",
        "--without-mingle",
        "--loglevel=WARNING",
    ]
    return subprocess.Popen(command, cwd=ROOT, env=environment, start_new_session=True)


@pytest.fixture
def worker(week) -> Iterator[Callable[..., subprocess.Popen[bytes]]]:
    started: list[subprocess.Popen[bytes]] = []

    def start(**given: str) -> subprocess.Popen[bytes]:
        started.append(start_worker(**given))
        return started[-1]

    yield start
    for process in started:
        if process.poll() is None:
            os.killpg(process.pid, signal.SIGKILL)
        process.wait(10)


def until(happened: Callable[[], bool], within_s: float = 150.0) -> None:
    ends = time.monotonic() + within_s
    while not happened():
        assert time.monotonic() < ends, "waited in vain"
        time.sleep(0.05)


def is_settled(take: Take) -> bool:
    return Take.objects.get(pk=take.pk).settled_at is not None


def lapse_leases() -> None:
    """What a minute and a half of waiting would do."""
    Analysis.objects.filter(state=Analysis.State.RUNNING).update(lease_until="2000-01-01T00:00:00Z")


def test_a_take_is_measured_and_settled_by_the_worker(week, worker, tone):
    worker()
    take = builders.take(week, tone, G4_MF)
    until(lambda: is_settled(take))
    assert [row.outcome for row in Try.objects.all()] == ["hit"]
    assert Analysis.objects.get().results.get().report["tones"][0]["written"] == "G4"


def decoders_of(process: subprocess.Popen[bytes]) -> list[psutil.Process]:
    """The decoders that wait or work in any of a worker's children."""
    return [
        child
        for child in psutil.Process(process.pid).children(recursive=True)
        if any(part.endswith("decoding.py") for part in child.cmdline())
    ]


def test_a_worker_has_a_decoder_waiting_before_the_first_take_comes(worker):
    started = worker()
    until(lambda: len(decoders_of(started)) == 1)
    assert Analysis.objects.count() == 0
    waiting = decoders_of(started)
    os.killpg(started.pid, signal.SIGKILL)
    until(lambda: not any(one.is_running() for one in waiting))


def test_a_worker_killed_in_the_middle_of_a_take_costs_nothing(week, worker, tone, long_take):
    first = worker()
    take = builders.take(week, long_take, G4_MF)
    until(lambda: Analysis.objects.get().state == Analysis.State.RUNNING)
    os.killpg(first.pid, signal.SIGKILL)
    first.wait(10)
    assert Analysis.objects.get().state == Analysis.State.RUNNING  # nobody has put it right yet
    worker()
    lapse_leases()
    assert sweeper.sweep().handed_back == 1
    until(lambda: is_settled(take))
    analysis = Analysis.objects.get()
    assert (analysis.state, analysis.claims, analysis.lost) == (Analysis.State.MEASURED, 2, 1)
    assert Try.objects.count() == 1


@contextmanager
def broker_at(url: str) -> Iterator[None]:
    """This process sends to another broker for a while."""
    before = current_app.conf.broker_url
    _send_to(url)
    try:
        yield
    finally:
        _send_to(before)


def _send_to(url: str) -> None:
    current_app.conf.broker_url = url
    pools.reset()
    current_app.amqp._producer_pool = current_app._pool = None  # they hold connections to the other one


def test_with_the_broker_down_a_take_is_received_and_measured_when_it_is_back(week, worker, tone, tmp_path):
    server, url = servers.start_redis(tmp_path)
    server.kill()
    server.wait()
    with broker_at(url):
        take = builders.take(week, tone, G4_MF)
        assert Take.objects.get(pk=take.pk).analysis.sent_at is None
        server, url = servers.start_redis(tmp_path)
        try:
            worker(broker_url=url)
            assert sweeper.sweep().sent == 1
            until(lambda: is_settled(take))
        finally:
            server.terminate()
            server.wait(10)


def test_a_broker_that_forgot_everything_is_told_again(week, worker, tone):
    take = builders.take(week, tone, G4_MF)
    with current_app.connection_for_write() as line:
        line.default_channel.client.delete(current_app.conf.task_default_queue)
    Analysis.objects.update(sent_at="2000-01-01T00:00:00Z")
    assert sweeper.sweep().sent == 1
    worker()
    until(lambda: is_settled(take))
    assert Try.objects.count() == 1


def test_a_message_that_comes_many_times_is_measured_and_counted_once(week, worker, tone):
    take = builders.take(week, tone, G4_MF)
    for _ in range(5):
        current_app.send_task("analysis.measure", args=[str(take.analysis_id)])
        current_app.send_task("assignments.settle", args=[str(take.analysis_id)])
    worker()
    until(lambda: is_settled(take))
    until(lambda: not any(sending.messages_waiting(queue.name) for queue in settings.CELERY_TASK_QUEUES))
    analysis = Analysis.objects.get()
    assert analysis.claims == 1
    assert Try.objects.count() == 1


def test_a_take_whose_worker_died_between_measuring_and_settling_is_settled(week, worker, tone):
    take = builders.take(week, tone, G4_MF)
    Analysis.objects.update(state=Analysis.State.REFUSED, fault_code="not_audio", measured_at="2000-01-01T00:00:00Z")
    assert sweeper.sweep().settling == 1
    worker()
    until(lambda: is_settled(take))
    assert Try.objects.get().outcome == "unreadable"
    assert Try.objects.get().reasons == ["not_audio"]


def test_what_waits_in_the_queue_already_is_not_sent_again_each_sweep(week, tone):
    for _ in range(3):
        builders.take(week, tone, G4_MF)
    assert [sending.messages_waiting(queue.name) for queue in settings.CELERY_TASK_QUEUES] == [3, 0]
    long_ago = "2000-01-01T00:00:00Z"
    Analysis.objects.update(state=Analysis.State.REFUSED, fault_code="not_audio", measured_at=long_ago)
    assert [sweeper.sweep().settling for _ in range(3)] == [3, 0, 0]
    assert [sending.messages_waiting(queue.name) for queue in settings.CELERY_TASK_QUEUES] == [3, 3]
    Analysis.objects.update(state=Analysis.State.QUEUED, sent_at=long_ago)
    assert sweeper.sweep().sent == 0  # received, and sent, a moment ago


def test_a_measured_take_is_settled_before_the_long_queue_of_others_is_through(week, worker, tone):
    takes = [builders.take(week, tone, G4_MF) for _ in range(12)]
    worker()
    until(lambda: is_settled(takes[0]))
    assert Analysis.objects.filter(state=Analysis.State.QUEUED).exists()
