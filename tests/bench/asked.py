"""What the load asks of a running site: pages in an open stream, and many uploads at the same moment."""

from __future__ import annotations

import http.client
import math
import os
import random
import sys
import threading
import time
import uuid
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from multiprocessing import get_context

import psutil

from tests.bench.rows import Row
from tests.chaos import laid
from tests.chaos.phones import Kind, Phone, Sent
from tests.faults.serving import Serving, wait_until

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
    """Recordings of 1 MB, all at the same moment, each sent once: no second try. Pages are asked for meanwhile, due
    whether the last one was answered or not. The phones are a process of their own, so that no page waits for them."""
    due, pages = [], []
    with ProcessPoolExecutor(1, get_context("fork")) as phones, ThreadPoolExecutor(64) as pool:
        sent = phones.submit(_all_at_once, serving.port, students, at_once)
        while not sent.done():
            due.append(time.monotonic())
            pages.append(pool.submit(get, serving.port, "/studio/", teacher))
            time.sleep(MEANWHILE_S)
    begun_s, answers = sent.result()
    pages_s = [one.result() for at_s, one in zip(due, pages, strict=True) if at_s >= begun_s]
    refused = [status for status, _took in answers if status != 201]
    print(f"answers that were none of 201: {refused}", file=sys.stderr, flush=True)
    return [
        Row(f"{at_once} uploads of 1 MB at once, refused", len(refused), "", 0),
        Row("… 95 % received within", percentile([took for _s, took in answers], 0.95), "s", 10),
        Row("… pages meanwhile, 95 % within", 1000 * percentile(pages_s, 0.95), "ms", 500),
        Row("… memory of the web process", megabytes(serving, WEB), "MB", 400),
    ]


def _all_at_once(port: int, students: Sequence[laid.Student], at_once: int) -> tuple[float, list[tuple[int, float]]]:
    """When it began, on the monotonic clock; and the status of each, with its seconds."""
    gate = threading.Barrier(at_once)

    def send(number: int) -> tuple[float, int, float]:
        sender = phone(port, students[number % len(students)])
        take = Sent(sender.student.horn, uuid.uuid4(), os.urandom(UPLOAD_BYTES), Kind.NO_SOUND)
        gate.wait()
        begun_s = time.monotonic()
        status, _body = sender.post(take, number % laid.TONES_A_DAY)
        return begun_s, status, time.monotonic() - begun_s

    with ThreadPoolExecutor(at_once) as pool:
        sent = list(pool.map(send, range(at_once)))
    return min(begun_s for begun_s, _status, _took in sent), [(status, took) for _begun, status, took in sent]


def phone(port: int, student: laid.Student) -> Phone:
    return Phone(student, port, {}, 0, 0.0, threading.Event(), random.Random(0))


def processor_s(serving: Serving, program: str) -> float:
    """Of the site's processes of that program so far, with whatever they started."""
    return sum(spent_s(one) for one in _running(serving, program) if one.ppid() == serving.process.pid)


def spent_s(process: psutil.Process) -> float:
    """Processor seconds of one process and of all that came from it, each once, also of those that have ended.

    One that has ended counts for itself until its parent takes notice, and then in its parent's account.
    """
    accounts = [process.cpu_times()]
    for child in process.children(recursive=True):
        with suppress(psutil.NoSuchProcess):
            accounts.append(child.cpu_times())
    return sum(one.user + one.system + one.children_user + one.children_system for one in accounts)


def workers(serving: Serving, how_many: int) -> list[psutil.Process]:
    """Those that measure: the children of the process that keeps them, which replaces each after so many tasks."""

    def found() -> list[psutil.Process]:
        return [one for one in _running(serving, "celery") if one.ppid() != serving.process.pid]

    assert wait_until(lambda: len(found()) == how_many, 30)
    return found()


def keep_to_a_core_each(these: Sequence[psutil.Process]) -> None:
    """With the decoder that each has waiting; those that it starts later stay on its core as well."""
    cores = sorted(os.sched_getaffinity(0))
    for number, worker in enumerate(these):
        for one in (worker, *worker.children()):
            one.cpu_affinity([cores[number]])


@contextmanager
def held(these: Sequence[psutil.Process]) -> Iterator[None]:
    """They do nothing meanwhile."""
    for one in these:
        one.suspend()
    try:
        yield
    finally:
        for one in these:
            one.resume()


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
    """The least of them that so many are no greater than."""
    return sorted(values)[math.ceil(share * len(values)) - 1]
