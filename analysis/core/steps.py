"""Stepped dynamics: terraces in a course of levels.

The course is cut where a piecewise constant line fits it best (least squares by dynamic programming, one penalty a
cut); pieces that a listener could not tell apart are joined again. The answer is exact: no start values, no
thresholds on slopes.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.lines import through
from analysis.core.units import median

if TYPE_CHECKING:
    from analysis.core.records import Doubles

PENALTY = 12.0  # noise variances a cut must earn
LEAST_NOISE_DB = 0.2
SHORTEST_S = 0.25
HEARD_DB = 1.0  # plateaus nearer than this are one
EDGE_S = 0.06  # of each plateau left out: the way from one to the next


@dataclass(frozen=True, slots=True)
class Terraces:
    """``levels_db`` of the plateaus in playing order; plateau i lies from ``cuts[i]`` to ``cuts[i + 1]``."""

    levels_db: tuple[float, ...]
    cuts: tuple[int, ...]
    slide_share: float  # of the way from softest to loudest plateau, what is slid inside the plateaus

    @property
    def steps_db(self) -> tuple[float, ...]:
        return tuple(b - a for a, b in pairwise(self.levels_db))


def terraces(level_db: Doubles, step_s: float) -> Terraces:
    """The plateaus of a course of levels every ``step_s`` seconds, read in half overlapping windows."""
    shortest = max(2, round(SHORTEST_S / step_s))
    edge = round(EDGE_S / step_s)
    cuts = _joined(level_db, _cut(level_db, shortest), edge)
    levels = tuple(_level(level_db, a, b, edge) for a, b in pairwise(cuts))
    way = max(levels) - min(levels)
    slid = sum(abs(_slid(level_db, a, b, edge)) for a, b in pairwise(cuts))
    return Terraces(levels, tuple(cuts), slid / way if way > 0.0 else 0.0)


def _cut(level_db: Doubles, shortest: int) -> list[int]:
    """Borders (first 0, last len) of the best piecewise constant line."""
    count = len(level_db)
    if count < 2 * shortest:
        return [0, count]
    noise = 1.4826 * median(np.abs(np.diff(level_db)))
    penalty = PENALTY * max(noise, LEAST_NOISE_DB) ** 2
    sums = np.concatenate([[0.0], np.cumsum(level_db)])
    squares = np.concatenate([[0.0], np.cumsum(np.square(level_db))])
    best = np.full(count + 1, np.inf)
    best[0] = 0.0
    came_from = np.zeros(count + 1, dtype=int)
    for end in range(shortest, count + 1):  # each step looks at all its beginnings at once
        starts = np.arange(end - shortest + 1)
        lengths = end - starts
        spread = squares[end] - squares[starts] - np.square(sums[end] - sums[starts]) / lengths
        cost = best[starts] + spread + penalty
        came_from[end] = int(np.argmin(cost))
        best[end] = cost[came_from[end]]
    cuts = [count]
    while cuts[-1] > 0:
        cuts.append(int(came_from[cuts[-1]]))
    return cuts[::-1]


def _joined(level_db: Doubles, cuts: list[int], edge: int) -> list[int]:
    """The borders without those between plateaus that nobody hears apart, nearest pair first."""
    while len(cuts) > 2:
        levels = np.array([_level(level_db, a, b, edge) for a, b in pairwise(cuts)])
        gaps = np.abs(np.diff(levels))
        nearest = int(np.argmin(gaps))
        if gaps[nearest] >= HEARD_DB:
            break
        cuts = [*cuts[: nearest + 1], *cuts[nearest + 2 :]]
    return cuts


def _inside(level_db: Doubles, first: int, last: int, edge: int) -> Doubles:
    """The course of one plateau without its edges, as far as something is left."""
    cut = min(edge, (last - first - 1) // 2)
    return level_db[first + cut : last - cut]


def _level(level_db: Doubles, first: int, last: int, edge: int) -> float:
    return median(_inside(level_db, first, last, edge))


def _slid(level_db: Doubles, first: int, last: int, edge: int) -> float:
    """How far the fitted line of one plateau moves over its whole length, in dB."""
    part = _inside(level_db, first, last, edge)
    if len(part) < 3:
        return 0.0
    return through(np.arange(len(part), dtype=np.float64), part).slope * (last - first)
