"""A smooth trend through notes that a few odd ones cannot bend: least absolute deviations, then Tukey's biweight."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.units import median

if TYPE_CHECKING:
    from analysis.core.records import Doubles

BIWEIGHT_SDS = 4.0
ROUNDS = 30
TINY = 1e-9
POINTS_PER_TERM = 3  # a curve through fewer would follow the notes themselves


def residuals(x: Doubles, y: Doubles, degree: int) -> Doubles:
    """``y`` less its robust polynomial over ``x``; of few points a lower degree than asked for. Any length from 1."""
    degree = min(degree, (len(x) - 1) // POINTS_PER_TERM)
    if degree == 0:
        return y - median(y)
    reach = max(float(x.max() - x.min()), 1.0)
    terms = np.vander((x - x.mean()) / reach, degree + 1)
    left = y - median(y)
    for _ in range(ROUNDS):  # reweighted least squares: towards least absolute deviations
        left = y - _fitted(terms, y, 1.0 / np.maximum(np.abs(left), 1e-3 * robust_sd(left) + TINY))
    for _ in range(ROUNDS):
        scaled = left / (BIWEIGHT_SDS * robust_sd(left) + TINY)
        weights = np.square(np.clip(1.0 - np.square(scaled), 0.0, None))
        if np.count_nonzero(weights) <= degree:
            break
        left = y - _fitted(terms, y, weights)
    return left


def robust_sd(values: Doubles) -> float:
    """Standard deviation that half the values could not move: 1.4826 times the median distance from the median."""
    return 1.4826 * median(np.abs(values - median(values)))


def _fitted(terms: Doubles, y: Doubles, weights: Doubles) -> Doubles:
    root = np.sqrt(weights)
    factors, *_ = np.linalg.lstsq(terms * root[:, None], y * root, rcond=None)
    fitted: Doubles = terms @ factors
    return fitted
