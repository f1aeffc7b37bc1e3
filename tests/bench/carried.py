"""The measurements of ``python -m tests.bench.load``: an open stream of pages, uploads at once, a queue worked off."""

from __future__ import annotations

import statistics
import time
import uuid
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from django.db.models import Max
from django.utils import timezone

from analysis.models import Analysis
from analysis.synthesis import ToneSpec, render, write
from assignments.models import Take
from studio.models import Membership
from tests.bench import asked
from tests.bench.evening import Evening, waits_s
from tests.bench.figures import Figures
from tests.bench.rows import Row
from tests.chaos import laid
from tests.chaos.phones import Kind, Sent
from tests.faults.serving import Serving, wait_until

PAGES_A_SECOND = 50
TAKE_S, TONE_S = 180.0, 12.0  # of recordings in the queue: one note of them is asked for
ONE_S, ONES = 60.0, 20  # a recording whose player waits for what came of it, and how many such
PAGE_ASKS_S = 1.5  # so often: OFTEN_MS of progress.js
STUDENTS = 20
MOST_WAITED_MIN = 30
WEB_PROCESSES = 2  # what the pages' limit is held with; the default of one is shown beside it


@dataclass(frozen=True, slots=True)
class Size:
    pages_for_s: int
    uploads: int
    takes: int  # of the queue that is worked off, a worker
    rounds: int  # of one worker and two in turn


WHOLE, SMALL = Size(20, 200, 24, 3), Size(4, 20, 3, 1)


def measure(folder: Path, var: Path, size: Size) -> tuple[list[Row], Figures]:
    """Every row of the table, on a site with twenty students and nine played days each, and what others reckon with."""
    students = laid.students(STUDENTS)
    teacher = laid.cookies_of(Membership.objects.get(role="teacher").user)
    recording, tone = _recording(folder, TAKE_S, tones=20), _recording(folder, TONE_S, tones=1)
    rows, page_s = _pages(var, students, teacher, size.pages_for_s)
    serving = Serving(var)
    try:
        serving.wait_until_ready()
        rows += asked.uploads(serving, students, teacher, size.uploads)
        assert wait_until(lambda: not Take.objects.filter(settled_at=None).exists(), 600)
        web_mb = asked.megabytes(serving, asked.WEB)
        rows.append(_to_results(serving, students, _recording(folder, ONE_S, tones=1)))
        one = _worked_off(serving, students, recording, size.takes)
        short = _worked_off(serving, students, tone, 2 * size.takes)
        worker_mb = asked.megabytes(serving, "celery")
    finally:
        serving.end()
    alone, both = _one_and_two(var, students, recording, size)
    rows.append(Row("takes of 3 minutes an hour, one worker", one.an_hour, "", 1500, "at least"))
    rows.append(Row("… processor seconds a take", one.processor_s, "s"))
    rows.append(Row(f"… and of one tone, {TONE_S:g} s", short.processor_s, "s"))
    rows.append(Row("takes of 3 minutes an hour, one worker kept to one core", alone, ""))
    rows.append(Row("two workers, each kept to a core, over that one", both / alone, "times", 1.9, "at least"))
    rows += _evening(3600 / one.an_hour)
    found = Figures(
        page_processor_s=page_s,
        tone_s=TONE_S,
        tone_processor_s=short.processor_s,
        tone_bytes=len(tone),
        web_process_mb=web_mb,
        worker_mb=worker_mb,
    )
    return rows, found


def _pages(var: Path, students: Sequence[laid.Student], teacher: str, for_s: int) -> tuple[list[Row], float]:
    """With one web process and with two, and the processor time of one page."""
    wanted = [("/today/", one.cookies) for one in students] + [("/studio/", teacher)] * 5
    rows, worked_s = [], 0.0
    for processes in (1, WEB_PROCESSES):
        serving = Serving(var, FOOTING_WEB_PROCESSES=str(processes))
        try:
            serving.wait_until_ready()
            took_s, worked_s = asked.pages(serving, wanted, PAGES_A_SECOND, for_s)
        finally:
            serving.end()
        within_ms = 1000 * asked.percentile(took_s, 0.95)
        limit = 150 if processes == WEB_PROCESSES else None
        what = f"pages at {PAGES_A_SECOND} a second, {processes} web process(es)"
        rows.append(Row(f"{what}, 95 % within", within_ms, "ms", limit))
        rows.append(Row("… half within", 1000 * statistics.median(took_s), "ms"))
        rows.append(Row("… processor time of a page", 1000 * worked_s, "ms"))
    return rows, worked_s


def _to_results(serving: Serving, students: Sequence[laid.Student], recording: bytes) -> Row:
    """Recordings sent one at a time, each followed as the page follows it, until its result is there."""
    took_s = []
    for student in students[:ONES]:
        key, begun_s = uuid.uuid4(), time.monotonic()
        status, _body = asked.phone(serving.port, student).post(Sent(student.horn, key, recording, Kind.TONE), 0)
        assert status == 201, status
        while not Take.objects.filter(client_key=key).exclude(settled_at=None).exists():
            time.sleep(PAGE_ASKS_S)
        took_s.append(time.monotonic() - begun_s)
    what = f"a recording of {ONE_S:g} s, sent, measured and seen on a page that asks every {PAGE_ASKS_S:g} s"
    return Row(f"{what}, 95 % within", asked.percentile(took_s, 0.95), "s", 3)


def _evening(service_s: float) -> list[Row]:
    """With one worker, with two, and with the fewest that hold the limit."""
    evening = Evening(service_s=service_s, seed=1)
    longest_min = {workers: max(waits_s(evening, workers)) / 60 for workers in range(1, 9)}
    enough = next(workers for workers, minutes in longest_min.items() if minutes <= MOST_WAITED_MIN)
    what = f"longest wait on a Sunday evening, {evening.students} students, simulated"
    rows = [Row(f"{what}, {workers} worker(s)", longest_min[workers], "min") for workers in range(1, enough)]
    return [*rows, Row(f"{what}, {enough} worker(s)", longest_min[enough], "min", MOST_WAITED_MIN)]


@dataclass(frozen=True, slots=True)
class Pace:
    an_hour: float
    processor_s: float  # a take, by the worker and its decoders


def _one_and_two(var: Path, students: Sequence[laid.Student], recording: bytes, size: Size) -> tuple[float, float]:
    """Takes an hour, over all rounds. In turn, because the speed of a core that is rented by the minute goes up and
    down by a fifth from one minute to the next; of long queues, because the last take of two workers is one's alone."""
    takes = 2 * size.takes
    rounds = [[_on_a_core_each(var, students, recording, n, takes) for n in (1, 2)] for _ in range(size.rounds)]
    alone, both = (statistics.harmonic_mean([pace.an_hour for pace in paces]) for paces in zip(*rounds, strict=True))
    return alone, both


def _on_a_core_each(var: Path, students: Sequence[laid.Student], recording: bytes, workers: int, takes: int) -> Pace:
    """Of so many takes a worker. Decoding goes on beside measuring, so that one worker keeps two cores busy where it
    has them: what a second one adds shows where each has a core of its own."""
    serving = Serving(var, FOOTING_WORKERS=str(workers))
    try:
        serving.wait_until_ready()
        asked.keep_to_a_core_each(asked.workers(serving, workers))
        return _worked_off(serving, students, recording, workers * takes, workers)
    finally:
        serving.end()


def _recording(folder: Path, seconds: float, tones: int) -> bytes:
    """As a phone sends it; a second of rest after each tone."""
    file = folder / f"{seconds:g}.webm"
    each = [ToneSpec(written_midi=60, dynamic="mf", seconds=seconds / tones - 1)] * tones
    write(file, render(each, "alto", seed=3)[0], "webm")
    return file.read_bytes()


def _worked_off(
    serving: Serving, students: Sequence[laid.Student], recording: bytes, takes: int, workers: int = 1
) -> Pace:
    """A queue that stands when the workers begin, to the last take that is settled."""
    keys = [uuid.uuid4() for _ in range(takes)]
    before_s = asked.processor_s(serving, "celery")
    with asked.held(asked.workers(serving, workers)):
        for number, key in enumerate(keys):
            phone = asked.phone(serving.port, students[number % len(students)])
            status, _body = phone.post(Sent(phone.student.horn, key, recording, Kind.TONE), 0)
            assert status == 201, status
        begun_at = timezone.now()
    mine = Take.objects.filter(client_key__in=keys)
    assert wait_until(lambda: not mine.filter(settled_at=None).exists(), 900)
    assert not mine.exclude(analysis__state=Analysis.State.MEASURED).exists()
    took_s = (mine.aggregate(last=Max("settled_at"))["last"] - begun_at).total_seconds()
    return Pace(3600 * takes / took_s, (asked.processor_s(serving, "celery") - before_s) / takes)
