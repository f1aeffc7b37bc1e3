"""Single frames in which the pitch search slipped: no lip moves that far and back in a few hundredths of a second."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.trend import robust_sd

if TYPE_CHECKING:
    from analysis.core.records import Doubles

AROUND = 7  # frames: the middle one of these stands for the pitch there
LEAST_CENTS, STEPS = 10.0, 4.0  # steps: how far the pitch usually goes from one frame to the next


def without_glitches(cents: Doubles) -> Doubles:
    """``cents`` (one value each 10 ms, NaN where none) with NaN where a frame or three stand far off their neighbours.

    How far is far follows the course itself, so that a wide fast vibrato keeps all its frames.
    """
    known = np.flatnonzero(np.isfinite(cents))
    if len(known) < AROUND:
        return cents
    values = cents[known]
    padded = np.pad(values, AROUND // 2, mode="edge")
    windows = np.lib.stride_tricks.sliding_window_view(padded, AROUND)
    middle = np.partition(windows, AROUND // 2, axis=1)[:, AROUND // 2]
    away = np.abs(values - middle)
    far = away > max(LEAST_CENTS, STEPS * robust_sd(np.diff(values)))
    if not np.any(far):
        return cents
    cleaned = cents.copy()
    cleaned[known[far]] = np.nan
    return cleaned


def middle_of_three(values: Doubles) -> Doubles:
    """(len - 2,) the median of each value and its two neighbours."""
    left, here, right = values[:-2], values[1:-1], values[2:]
    return np.maximum(np.minimum(left, here), np.minimum(np.maximum(left, here), right))
