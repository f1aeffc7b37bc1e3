"""A sweep puts one measure to many tones whose truth is known from elsewhere, and collects how far it was off."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

MISSED = float("inf")  # a tone that was not heard, or a number that was not given


@dataclass(frozen=True, slots=True)
class Sweep:
    """``within``: what 95 of 100 errors must stay inside; ``worst``: what all must."""

    measure: str
    unit: str
    material: str  # what was sounded
    source: str  # where the truth comes from
    within: float
    worst: float
    errors: Callable[[], Sequence[float]]

    @property
    def name(self) -> str:
        return f"{self.measure}: {self.material}, against {self.source}"


@dataclass(frozen=True, slots=True)
class Found:
    tones: int
    median: float
    most: float  # 95th percentile
    worst: float


def run(sweep: Sweep) -> Found:
    errors = np.abs(np.asarray(sweep.errors(), dtype=float))
    if len(errors) < 5:
        raise ValueError(f"{sweep.name}: {len(errors)} tones prove nothing")
    return Found(
        len(errors),
        float(np.median(errors)),
        float(np.percentile(errors, 95, method="higher")),
        float(errors.max()),
    )
