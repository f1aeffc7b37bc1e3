"""A new version comes while phones send: the new web process beside the old one, which then stops; so the worker."""

from __future__ import annotations

import os
import random
import signal
import subprocess
import sys
import threading
import uuid
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor

import psutil
import pytest
from django.db import connection

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from assignments import plans
from assignments.models import Take
from tests import builders, people
from tests.chaos import laid
from tests.chaos.phones import Kind, Phone, Sent
from tests.faults.serving import ROOT, free_port, wait_until

pytestmark = [pytest.mark.django_db(transaction=True), pytest.mark.both_databases]

PHONES = 4
PAUSE_S = 1.0  # between a phone's takes
WEB_GRACE_S, WORKER_GRACE_S = 30.0, 90.0  # as compose.yaml and the supervisor give
PATIENCE_S = 120.0
WORKER = ("celery", "--app=tests.worker", "worker", "--concurrency=1", "--without-gossip", "--without-mingle")
ANSWERED, NO_ANSWER = {200, 201}, 0  # of an answer that doesn't come a proxy makes a 502


class Site:
    """Web processes on one port and workers, in the versions that come and go."""

    def __init__(self) -> None:
        self.port = free_port()
        self.started: list[subprocess.Popen[bytes]] = []

    def start(self, *module: str) -> subprocess.Popen[bytes]:
        here = {
            "PYTHONPATH": str(ROOT),
            "TESTS_DATABASE": str(connection.settings_dict["NAME"]),
            "FOOTING_PORT": str(self.port),
            "FOOTING_WEB_PROCESSES": "2",  # the port is shared
        }
        command = [sys.executable, "-m", *module]
        self.started.append(subprocess.Popen(command, cwd=ROOT, env={**os.environ, **here}, start_new_session=True))
        return self.started[-1]

    def start_web(self) -> subprocess.Popen[bytes]:
        web = self.start("tests.web")
        known = psutil.Process(web.pid)

        def listens() -> bool:
            assert web.poll() is None, "the web process ended"
            return any(line.status == "LISTEN" for line in known.net_connections("tcp"))

        assert wait_until(listens, PATIENCE_S)
        return web

    def end(self) -> None:
        for process in self.started:
            if process.poll() is None:
                os.killpg(process.pid, signal.SIGKILL)
            process.wait(10)


@pytest.fixture
def site(empty_queue: None) -> Iterator[Site]:
    site = Site()
    yield site
    site.end()


@pytest.fixture
def phones(site: Site) -> list[Phone]:
    where = people.studio()
    teacher, made = people.teacher(where).user, []
    for number in range(PHONES):
        horn = people.horn(where, f"player{number} Larkspur")
        week = builders.week(horn, teacher)
        plan = plans.plan_for(horn, where.today())
        student = laid.Student(horn.pk, builders.daily(week).pk, plan.pk, laid.cookies_of(horn.player.user))
        made.append(Phone(student, site.port, {}, 0, 0.0, threading.Event(), random.Random(number)))
    return made


@pytest.fixture(scope="module")
def tone(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    file = tmp_path_factory.mktemp("sound") / "g4.webm"
    write(file, render([ToneSpec(written_midi=67, dynamic="mf", seconds=2.5)], "alto", seed=5)[0], "webm")
    return file.read_bytes()


def send_on(phone: Phone, tone: bytes, over: threading.Event) -> None:
    """Take after take, each as often as it needs to be confirmed; the last one too."""
    while not over.is_set():
        take = Sent(phone.student.horn, uuid.uuid4(), tone, Kind.TONE)
        phone.sent.append(take)

        def is_confirmed(take: Sent = take) -> bool:
            take.answers.append(phone.post(take, 0)[0])
            return take.answers[-1] in ANSWERED

        assert wait_until(is_confirmed, PATIENCE_S), take.answers
        over.wait(PAUSE_S)


def unsettled() -> int:
    return Take.objects.filter(settled_at=None).count()


def test_a_deploy_loses_no_take_and_no_claim_and_breaks_off_what_is_in_flight_at_most(site, phones, tone) -> None:
    over = threading.Event()

    def sent() -> int:
        return sum(len(phone.sent) for phone in phones)

    old_web, old_worker = site.start_web(), site.start(*WORKER)
    with ThreadPoolExecutor(PHONES) as pool:
        sending = [pool.submit(send_on, phone, tone, over) for phone in phones]
        try:
            assert wait_until(lambda: sent() > PHONES, PATIENCE_S)
            site.start_web()
            old_web.send_signal(signal.SIGINT)
            assert old_web.wait(WEB_GRACE_S) == 0
            assert wait_until(lambda: Analysis.objects.filter(state="running").exists(), PATIENCE_S)
            old_worker.send_signal(signal.SIGTERM)
            assert old_worker.wait(WORKER_GRACE_S) == 0
            stopped_at = sent()
            site.start(*WORKER)
            assert wait_until(lambda: sent() > stopped_at + PHONES, PATIENCE_S)
        finally:
            over.set()
        for one in sending:
            one.result()
    takes = [take for phone in phones for take in phone.sent]
    answers = Counter(answer for take in takes for answer in take.answers)
    assert answers.keys() <= ANSWERED | {NO_ANSWER}
    assert answers[NO_ANSWER] <= PHONES
    assert sorted(Take.objects.values_list("client_key", flat=True)) == sorted(take.key for take in takes)
    while left := unsettled():
        assert wait_until(lambda left=left: unsettled() < left, PATIENCE_S)  # type: ignore[misc]  # bound at once
    assert set(Analysis.objects.values_list("state", "lost", "claims")) == {("measured", 0, 1)}
