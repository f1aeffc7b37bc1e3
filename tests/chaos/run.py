"""One run: a studio is laid, its phones play, everything around them dies, and at the end it is counted."""

from __future__ import annotations

import random
import threading
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.db import connection

from analysis.models import Analysis
from tests.chaos import laid, tally
from tests.chaos.phones import Phone
from tests.chaos.trouble import Clock, Trouble
from tests.faults.serving import Serving

STILL_S = 180.0  # so long without one step, nothing comes any more: a lost message is sent again after a minute
PHASE_S = 12.0
REPEAT_EVERY_S = 3.0


@dataclass(frozen=True, slots=True)
class Plan:
    """How many takes in how many minutes, from how many phones, and how often somebody is killed."""

    takes: int
    minutes: float
    phones: int
    kill_every_s: float
    killers: int  # recordings that kill their worker, each time that they are tried
    seed: int
    workers: int = 2


@dataclass(frozen=True, slots=True)
class Outcome:
    tally: tally.Tally
    done: dict[str, int]
    seconds: float
    settled_s: float  # from the last trouble until everything was settled


def run(plan: Plan, var: Path, *, may_fill: bool, clock: Clock, postgres: Any, settings: dict[str, str]) -> Outcome:
    """``var``: a data folder whose database is laid; ``postgres``: the server to restart, None on SQLite."""
    dice = random.Random(plan.seed)
    students = laid.students(plan.phones)
    sounds = laid.sounds(var.parent)
    program = ("-m", "tests.chaos.parts")
    serving = Serving(var, program=program, FOOTING_WORKERS=str(plan.workers), **clock.environment, **settings)
    begun = time.monotonic()
    try:
        serving.wait_until_ready()
        trouble = Trouble(serving, var, dice)
        over = threading.Event()
        each = -(-plan.takes // plan.phones)
        pause_s = plan.minutes * 60 / each
        phones = [
            Phone(one, serving.port, sounds, each, pause_s, over, random.Random(dice.random()), number < plan.killers)
            for number, one in enumerate(students)
        ]
        threads = [threading.Thread(target=phone.play, daemon=True) for phone in phones]
        for thread in threads:
            thread.start()
        _be_trouble(plan, trouble, threads, may_fill=may_fill, clock=clock, postgres=postgres)
        last = time.monotonic()
        _wait_while_it_goes_on(threads)
        over.set()
        for thread in threads:
            thread.join()
        settled_s = time.monotonic() - last
    finally:
        serving.end()
    sent = [one for phone in phones for one in phone.sent]
    return Outcome(tally.count(sent, students), dict(trouble.done), time.monotonic() - begun, settled_s)


def _wait_while_it_goes_on(threads: list[threading.Thread]) -> None:
    """Until everything is settled, however long a slow machine takes, or until it stands still."""
    reached, at = tally.reached(), time.monotonic()
    while (any(thread.is_alive() for thread in threads) or tally.waiting()) and time.monotonic() < at + STILL_S:
        time.sleep(0.5)
        before, reached = reached, tally.reached()
        at = at if reached == before else time.monotonic()


def _be_trouble(
    plan: Plan, trouble: Trouble, threads: list[threading.Thread], *, may_fill: bool, clock: Clock, postgres: Any
) -> None:
    """Kill at random until the phones are through; between the kills, each of the three phases once."""
    begun = time.monotonic()
    phases = [(0.7, lambda: trouble.jump(clock, PHASE_S))] if clock.can_jump else []
    if postgres is None:
        phases.append((0.45, lambda: trouble.hold_sqlite(2 * PHASE_S)))
    else:
        phases.append((0.45, lambda: trouble.restart_postgres(postgres, PHASE_S)))
    if may_fill:
        phases.append((0.2, lambda: trouble.fill_disk(PHASE_S)))
    kill_at = repeat_at = begun
    while any(thread.is_alive() for thread in threads) and time.monotonic() < begun + plan.minutes * 120:
        now = time.monotonic()
        if phases and now - begun > phases[-1][0] * plan.minutes * 60:
            phases.pop()[1]()
            connection.close()  # this process's own may have died with the server
        if now > repeat_at:
            trouble.repeat_messages(list(Analysis.objects.exclude(request={}).values_list("pk", flat=True)))
            repeat_at = now + REPEAT_EVERY_S
        if now > kill_at:
            trouble.kill_somebody()
            kill_at = now + trouble.dice.expovariate(1 / plan.kill_every_s)
        time.sleep(0.1)
