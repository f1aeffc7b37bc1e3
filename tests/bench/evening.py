"""A Sunday evening by simulation: students come home and practise, and the workers have a queue."""

from __future__ import annotations

import heapq
import random
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Evening:
    """Assumptions stated: who plays when. ``service_s`` is measured: a worker's time for one take.

    A fifth of the week's practice falls on Sunday between five and eight; a session is twelve takes, one a minute;
    sessions begin most often at half past six. Service times vary like those measured, by a tenth.
    """

    service_s: float
    seed: int
    students: int = 500
    share_who_play: float = 0.6
    takes_each: int = 12
    pause_s: float = 60.0
    begins_s: float = 1.5 * 3600  # after five o'clock, on average …
    spread_s: float = 0.75 * 3600  # … give or take


def arrivals_s(evening: Evening) -> list[float]:
    """When each take comes in, seconds after five o'clock."""
    dice = random.Random(evening.seed)
    found = []
    for _ in range(round(evening.students * evening.share_who_play)):
        at = max(0.0, dice.gauss(evening.begins_s, evening.spread_s))
        for _take in range(evening.takes_each):
            found.append(at)
            at += evening.pause_s * dice.uniform(0.7, 1.6)
    return sorted(found)


def waits_s(evening: Evening, workers: int) -> list[float]:
    """How long each take waited for a free worker, in the order in which they came."""
    dice = random.Random(evening.seed + 1)
    free_at = [0.0] * workers
    waits = []
    for at in arrivals_s(evening):
        begins = max(at, heapq.heappop(free_at))
        heapq.heappush(free_at, begins + max(0.0, dice.gauss(evening.service_s, evening.service_s / 10)))
        waits.append(begins - at)
    return waits
