"""A noise gate: in pause after pause something falls away at once that had hardly been falling.

What a room or a horn lets go of falls evenly, or slower and slower until the noise is reached; nothing in it turns
down. A gate does so at the same level each time: out of the noise that the tone left behind, out of a tail, or out of
a breath that had held it open. A breath may end at once by itself, but in the noise that was there before it.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.units import median

if TYPE_CHECKING:
    from analysis.core.pauses import Courses
    from analysis.core.records import Doubles, Frames
    from analysis.core.tones import Found

# Looked for 20 dB and more under the tone before, in steps of 5 ms: what falls within 60 ms under all that the pause
# held so far, less what it would fall going on as in the 40 ms before (4 dB of which are any noise's own), and does not
# come back within 50 ms.
UNDER_DB, TONE_STEPS, LEAST_STEPS = 20.0, 60, 60
BEFORE_STEPS, FALL_STEPS, STAYS_STEPS = 8, 12, 10
OWN_DB, MOST_BEFORE_DB = 4.0, 12.0
HEARD_DBFS = -78.0  # 20 dB over the rounding of 16 bits: codecs leave out what is softer
# Chosen on half of the material: without a gate 28 of 100 pauses at most fall by so much, with one 72 and more.
FALL_DB, GATED_PAUSES, LEAST_PAUSES, ALIKE_DB = 14.0, 0.5, 3, 8.0
GONE_DB = 20.0  # the room's noise is there and gone in one pause, which a breath opened: no level control gives so much
NOWHERE = float("nan")


def is_gated(frames: Frames, found: Sequence[Found], level_db: Doubles, noise: Courses) -> bool:
    """``level_db`` from ``envelope_db``, ``noise`` from ``pauses.courses_of``."""
    fell = {number: _falls_from(frames, *pair, level_db) for number, pair in enumerate(pairwise(found))}
    pauses = {number: db for number, db in fell.items() if db is not None}
    known = [db for db in pauses.values() if np.isfinite(db)]
    gone = [number for number in pauses if number in noise and np.ptp(noise[number]) >= GONE_DB]
    shut = sum(np.isfinite(db) or number in gone for number, db in pauses.items())
    if len(pauses) < LEAST_PAUSES or shut < GATED_PAUSES * len(pauses):
        return False
    return len(known) < 2 or float(np.std(known)) < ALIKE_DB


def _falls_from(frames: Frames, before: Found, after: Found, level_db: Doubles) -> float | None:
    """Level from which the sound turns down in the pause between two tones; NaN: it does not; None: no pause."""
    first, end = (round(at_s / frames.block_s) for at_s in (before.span.end_s, after.span.start_s - 0.05))
    low = np.flatnonzero(level_db[first:end] < median(level_db[max(0, first - TONE_STEPS) : first]) - UNDER_DB)
    if len(low) == 0 or end - first - int(low[0]) < LEAST_STEPS:
        return None
    gap = level_db[first + int(low[0]) : end]
    so_far_db = np.minimum.accumulate(gap)[BEFORE_STEPS - 1 :]
    places = len(so_far_db) - FALL_STEPS - STAYS_STEPS
    sudden = np.flatnonzero(so_far_db[:places] - so_far_db[FALL_STEPS : FALL_STEPS + places] > FALL_DB)
    if not len(sudden):
        return NOWHERE
    windows = np.lib.stride_tricks.sliding_window_view(gap, BEFORE_STEPS)[sudden]
    stays_db = np.lib.stride_tricks.sliding_window_view(gap[BEFORE_STEPS + FALL_STEPS :], STAYS_STEPS)[sudden]
    fell_before = np.ptp(windows, axis=1)
    falls = so_far_db[sudden] - np.maximum(so_far_db[sudden + FALL_STEPS], stays_db.max(axis=1))
    falls -= FALL_STEPS / BEFORE_STEPS * np.maximum(fell_before - OWN_DB, 0.0)
    falls[(fell_before > MOST_BEFORE_DB) | (windows.mean(axis=1) < HEARD_DBFS)] = 0.0
    most = int(falls.argmax())
    return float(windows[most].mean()) if falls[most] > FALL_DB else NOWHERE
