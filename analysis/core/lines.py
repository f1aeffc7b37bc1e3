"""Straight lines through points by least squares: nothing more, but quick on short arrays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.core.records import Doubles


@dataclass(frozen=True, slots=True)
class Line:
    """``level + slope * x``."""

    slope: float
    level: float

    def at(self, x: Doubles) -> Doubles:
        return self.level + self.slope * x

    def value(self, x: float) -> float:
        return self.level + self.slope * x


def through(x: Doubles, y: Doubles) -> Line:
    """The least-squares line of ``y`` over ``x`` (same length, at least one point; one place only: a level line)."""
    middle, level = float(x.mean()), float(y.mean())
    away = x - middle
    reach = float(away @ away)
    slope = float(away @ y) / reach if reach > 0.0 else 0.0
    return Line(slope, level - slope * middle)


def r_squared(x: Doubles, y: Doubles) -> float:
    """Share of the variance of ``y`` that the line over ``x`` explains; 0 where nothing moves."""
    off = y - y.mean()
    total = float(off @ off)
    if total <= 0.0:
        return 0.0
    left = y - through(x, y).at(x)
    return 1.0 - float(left @ left) / total
