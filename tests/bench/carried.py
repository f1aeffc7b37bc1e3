"""The measurements of ``python -m tests.bench.load``: an open stream of pages, uploads at once, a queue worked off."""

from __future__ import annotations

import http.client
import os
import random
import statistics
import threading
import time
import uuid
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path

from django.db.models import Max, Min

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from assignments.models import Take
from studio.models import Membership
from tests.bench.evening import Evening, oldest_waits_s
from tests.bench.rows import Row
from tests.chaos import laid
from tests.chaos.phones import Phone, Sent
from tests.faults.serving import Serving, wait_until

PAGES_A_SECOND, PAGES_FOR_S = 50, 20
AT_ONCE = 200
BIG_BYTES = 1_000_000
TAKES, TAKE_S = 24, 180.0  # of the queue that is worked off: a recording of three minutes, one note of it asked for
STUDENTS = 20


def measure(folder: Path, var: Path) -> list[Row]:
    """Every row of the table, on a site with twenty students and seven played days each."""
    students = laid.students(STUDENTS)
    teacher = laid.cookies_of(Membership.objects.get(role="teacher").user)
    recording = _three_minutes(folder)
    busy = os.getloadavg()[0] / (os.cpu_count() or 1)
    rows = [Row("the machine before it began, processes a core", busy, "")]
    serving = Serving(var)
    try:
        serving.wait_until_ready()
        rows += _pages(serving.port, students, teacher)
        rows += _uploads(serving.port, students)
        assert wait_until(lambda: not Take.objects.filter(settled_at=None).exists(), 600)
        one = _an_hour(serving.port, students, recording)
    finally:
        serving.end()
    two = _with_two_workers(var, students, recording)
    rows.append(Row("takes of 3 minutes an hour, one worker", one, "", 1500, "at least"))
    rows.append(Row("two workers over one", two / one, "times", 1.9, "at least"))
    service_s = 3600 / one
    evening = Evening(service_s=service_s, seed=1)
    for workers in (1, 2):
        oldest = oldest_waits_s(evening, workers)
        what = f"oldest waiting take on a Sunday evening, {evening.students} students, {workers} worker(s), simulated"
        rows.append(Row(what, max(oldest) / 60, "min", 30))
    return rows


def _with_two_workers(var: Path, students: Sequence[laid.Student], recording: bytes) -> float:
    serving = Serving(var, FOOTING_WORKERS="2")
    try:
        serving.wait_until_ready()
        return _an_hour(serving.port, students, recording)
    finally:
        serving.end()


def _three_minutes(folder: Path) -> bytes:
    file = folder / "long.webm"
    tones = [ToneSpec(written_midi=60, dynamic="mf", seconds=8.0)] * int(TAKE_S / 9)
    write(file, render(tones, "alto", seed=3)[0], "webm")
    return file.read_bytes()


def _pages(port: int, students: Sequence[laid.Student], teacher: str) -> list[Row]:
    """An open stream: a request is due every 20 ms whether the last one was answered or not."""
    asked = [("/today/", one.cookies) for one in students] + [("/studio/", teacher)] * 5
    dice = random.Random(2)
    for path, cookies in asked:
        _get(port, path, cookies)  # each page once before: a day's plan is laid when it is first opened
    begins = time.monotonic() + 0.5
    due = [(begins + n / PAGES_A_SECOND, *dice.choice(asked)) for n in range(PAGES_A_SECOND * PAGES_FOR_S)]

    def ask(one: tuple[float, str, str]) -> tuple[int, float]:
        at, path, cookies = one
        time.sleep(max(0.0, at - time.monotonic()))
        status = _get(port, path, cookies)
        return status, time.monotonic() - at

    with ThreadPoolExecutor(64) as pool:
        answers = list(pool.map(ask, due))
    took = [seconds * 1000 for _status, seconds in answers]
    errors = sum(status != 200 for status, _seconds in answers)
    return [
        Row("pages at 50 a second, 95 % within", _percentile(took, 0.95), "ms", 150),
        Row("pages at 50 a second, half within", statistics.median(took), "ms"),
        Row("… of them with an error", errors, "", 0),
    ]


def _get(port: int, path: str, cookies: str) -> int:
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as line:
        line.request("GET", path, headers={"Cookie": cookies})
        answer = line.getresponse()
        answer.read()
        return answer.status


def _uploads(port: int, students: Sequence[laid.Student]) -> list[Row]:
    """Two hundred recordings of 1 MB, all at the same moment, each sent once: no second try."""
    dice = random.Random(4)
    gate = threading.Barrier(AT_ONCE)

    def send(number: int) -> tuple[int, float]:
        phone = _phone(port, students[number % len(students)])
        take = Sent(phone.student.horn, uuid.UUID(int=dice.getrandbits(128), version=4), os.urandom(BIG_BYTES), True)
        gate.wait()
        begun = time.monotonic()
        status, _body = phone.post(take, number % laid.TONES_A_DAY)
        return status, time.monotonic() - begun

    with ThreadPoolExecutor(AT_ONCE) as pool:
        answers = list(pool.map(send, range(AT_ONCE)))
    refused = sum(status != 201 for status, _seconds in answers)
    return [
        Row("200 uploads of 1 MB at once, refused", refused, "", 0),
        Row("… 95 % received within", _percentile([s for _status, s in answers], 0.95), "s", 10),
    ]


def _an_hour(port: int, students: Sequence[laid.Student], recording: bytes) -> float:
    """Takes an hour, from the first one received to the last one measured."""
    keys = [uuid.uuid4() for _ in range(TAKES)]
    for number, key in enumerate(keys):
        phone = _phone(port, students[number % len(students)])
        status, _body = phone.post(Sent(phone.student.horn, key, recording, True), 0)
        assert status == 201, status
    mine = Analysis.objects.filter(take__client_key__in=keys)
    assert wait_until(lambda: not mine.exclude(state=Analysis.State.MEASURED).exists(), 900)
    span = mine.aggregate(first=Min("created_at"), last=Max("measured_at"))
    return TAKES * 3600 / (span["last"] - span["first"]).total_seconds()


def _phone(port: int, student: laid.Student) -> Phone:
    return Phone(student, port, {}, 0, 0.0, threading.Event(), random.Random(0))


def _percentile(values: Sequence[float], share: float) -> float:
    return sorted(values)[int(share * (len(values) - 1))]
