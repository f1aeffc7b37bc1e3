"""Hum of the mains and of what hangs on them: a pitch of 50 or 60 Hz or a multiple, and nothing in the take is quieter.

It has partials and holds still, as a tone does. The notes of a horn in tune lie 21 cents and more beside it; one that
does not is louder than the pause before it. What lies farther under the horn's range than any finger or lip reaches is
hum too: of a fundamental under its own range the search for pitch only sees the skirt.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.units import decibels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats

    Flags = NDArray[np.bool_]

MAINS_HZ, HIGHEST_HZ, NEAR_CENTS = (50.0, 60.0), 300.0, 20.0
MOSTLY = 0.8  # of the frames of a block
UNDER_LOWEST_SEMITONES = 1.4  # a low A key is one
OVER_QUIETEST_DB, QUIETEST_PERCENTILE, LEFT_OUT = 6.0, 2, 2  # left out: recorders and codecs may fade in
SOLE_DBFS = -40.0  # a tone without a pause before or after it is louder than that


def is_mains(f_hz: Doubles | Floats, near_cents: float = NEAR_CENTS) -> Flags:
    """Whether each lies so near to a multiple of the mains' frequency."""
    near = np.zeros(np.shape(f_hz), dtype=bool)
    for mains_hz in MAINS_HZ:
        multiple = np.maximum(np.rint(f_hz / mains_hz), 1.0) * mains_hz
        near |= np.abs(f_hz / multiple - 1.0) < near_cents * np.log(2.0) / 1200.0
    return near & (f_hz < HIGHEST_HZ)


def blocks(f0_hz: Doubles, powers: Doubles, lowest_hz: float) -> Flags:
    """(blocks,) which hold hum and nothing else. ``f0_hz``: (blocks, frames); ``powers``: (blocks,) mean squares."""
    level_db = decibels(powers)
    if len(powers) <= LEFT_OUT:
        return np.zeros(len(powers), dtype=bool)
    ordered = np.sort(level_db)
    quietest_db = float(ordered[max(LEFT_OUT, len(ordered) * QUIETEST_PERCENTILE // 100)])
    most_db = quietest_db + OVER_QUIETEST_DB
    if ordered[-1] < most_db and quietest_db > SOLE_DBFS:
        return np.zeros(len(powers), dtype=bool)
    no_note = is_mains(f0_hz) | (f0_hz < lowest_hz * 2.0 ** (-UNDER_LOWEST_SEMITONES / 12.0))
    hum: Flags = (no_note.mean(axis=1) >= MOSTLY) & (level_db < most_db)
    return hum
