"""What the load asks of a running site: pages in an open stream, and many uploads at the same moment."""

from __future__ import annotations

import http.client
import os
import random
import sys
import threading
import time
import uuid
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, suppress

import psutil

from tests.bench.rows import Row
from tests.chaos import laid
from tests.chaos.phones import Kind, Phone, Sent
from tests.faults.serving import Serving

Wanted = tuple[str, str]  # a path, and the cookies of whoever asks
UPLOAD_BYTES = 1_000_000
MEANWHILE_S = 0.2  # between two pages while recordings come in
WEB = "studio.config.web"


def pages(serving: Serving, wanted: Sequence[Wanted], a_second: int, for_s: int) -> tuple[list[float], float]:
    """Seconds of each, and processor seconds of one. A page is due whether the last one was answered or not."""
    dice = random.Random(2)
    for path, cookies in wanted:
        for _ in range(2):  # each before: a day's plan is laid when it is first opened, and each process learns
            get(serving.port, path, cookies)
    begins = time.monotonic() + 0.5
    due = [(begins + n / a_second, *dice.choice(wanted)) for n in range(a_second * for_s)]

    def ask(one: tuple[float, str, str]) -> float:
        at, path, cookies = one
        time.sleep(max(0.0, at - time.monotonic()))
        get(serving.port, path, cookies)
        return time.monotonic() - at

    before_s = processor_s(serving, WEB)
    with ThreadPoolExecutor(64) as pool:
        took_s = list(pool.map(ask, due))
    return took_s, (processor_s(serving, WEB) - before_s) / len(due)


def get(port: int, path: str, cookies: str) -> float:
    """Seconds. Whatever is no whole page is an AssertionError."""
    begun = time.monotonic()
    with closing(http.client.HTTPConnection("127.0.0.1", port, timeout=60)) as line:
        line.request("GET", path, headers={"Cookie": cookies})
        answer = line.getresponse()
        answer.read()
        assert answer.status == 200, (path, answer.status)
    return time.monotonic() - begun


def uploads(serving: Serving, students: Sequence[laid.Student], teacher: str, at_once: int) -> list[Row]:
    """Recordings of 1 MB, all at the same moment, each sent once: no second try. Pages are asked for meanwhile."""
    gate = threading.Barrier(at_once)

    def send(number: int) -> tuple[int, float]:
        sender = phone(serving.port, students[number % len(students)])
        take = Sent(sender.student.horn, uuid.uuid4(), os.urandom(UPLOAD_BYTES), Kind.NO_SOUND)
        gate.wait()
        begun = time.monotonic()
        status, _body = sender.post(take, number % laid.TONES_A_DAY)
        return status, time.monotonic() - begun

    with ThreadPoolExecutor(at_once) as pool:
        sent = [pool.submit(send, number) for number in range(at_once)]
        pages_s = []
        while not all(one.done() for one in sent):
            pages_s.append(get(serving.port, "/studio/", teacher))
            time.sleep(MEANWHILE_S)
    answers = [one.result() for one in sent]
    refused = [status for status, _took in answers if status != 201]
    print(f"answers that were none of 201: {refused}", file=sys.stderr, flush=True)
    return [
        Row(f"{at_once} uploads of 1 MB at once, refused", len(refused), "", 0),
        Row("… 95 % received within", percentile([took for _s, took in answers], 0.95), "s", 10),
        Row("… pages meanwhile, 95 % within", 1000 * percentile(pages_s, 0.95), "ms", 500),
        Row("… memory of the web process", megabytes(serving, WEB), "MB", 400),
    ]


def phone(port: int, student: laid.Student) -> Phone:
    return Phone(student, port, {}, 0, 0.0, threading.Event(), random.Random(0))


def processor_s(serving: Serving, program: str) -> float:
    """Of the site's processes of that program so far, with their children and with those that have ended."""
    worked_s = 0.0
    for one in _running(serving, program):
        spent = one.cpu_times()
        worked_s += spent.user + spent.system + spent.children_user + spent.children_system
        for child in one.children(recursive=True):
            if (command := _command(child)) and program not in command:
                with suppress(psutil.NoSuchProcess):  # ended since; its time stands with its parent's
                    spent = child.cpu_times()
                    worked_s += spent.user + spent.system
    return worked_s


def megabytes(serving: Serving, program: str) -> float:
    """Of the largest of the site's processes of that program."""
    return max(one.memory_info().rss for one in _running(serving, program)) / 1e6


def _running(serving: Serving, program: str) -> list[psutil.Process]:
    return [one for one in serving.everybody() if program in _command(one)]


def _command(process: psutil.Process) -> str:
    """Empty for one that has ended."""
    try:
        return " ".join(process.cmdline())
    except psutil.NoSuchProcess:
        return ""


def percentile(values: Sequence[float], share: float) -> float:
    return sorted(values)[int(share * (len(values) - 1))]
