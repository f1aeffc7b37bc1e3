"""A tone that starts twice: it speaks, goes out and speaks again within a moment.

In a room a moving pitch (a vibrato, a scoop) beats against its own reflections, and its level dips as deeply as that of
a tone which went out. But then each partial dips by itself: of one that went out, all do together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.records import Frames, Span, Vibrato
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels, median, percentiles

if TYPE_CHECKING:
    from analysis.core.records import Doubles

WITHIN_S, DIP_DB, NEAR_DB = 0.4, 8.0, 10.0
LEAST_BLOCKS = 8
MOVING_CENTS = 30.0
# Of the strong partials three in four. SoundFonts struck twice 60 to 120 ms apart: 8 to 35 dB, in a room 5 dB under
# them 8 to 20; 288 tones with vibrato or scoop in rooms of -3 to 10 dB: one over 10.
TOGETHER_DB, TOGETHER_PERCENTILE, STRONG_DB = 10.0, 25, 30.0


def is_double(
    frames: Frames,
    span: Span,
    level: tuple[Doubles, Doubles],
    body_db: float | None,
    vibrato: Vibrato,
    scoop_cents: float | None,
) -> bool:
    """``level``: times from the start and the envelope in dB at them; ``body_db``: the tone's own level."""
    since_s, level_db = level
    dip_s = _deepest(since_s, level_db, body_db)
    if dip_s is None:
        return False
    moving = vibrato.present or abs(scoop_cents or 0.0) >= MOVING_CENTS
    return not moving or _all_together(frames, span, span.start_s + dip_s)


def _deepest(since_s: Doubles, level_db: Doubles, body_db: float | None) -> float | None:
    """Where, within 0.4 s, the level lies furthest under both what was before and what comes: 8 dB or more."""
    early = since_s <= WITHIN_S
    if body_db is None or np.count_nonzero(early) < LEAST_BLOCKS:
        return None
    level = level_db[early]
    before = np.maximum.accumulate(level)
    after = np.maximum.accumulate(level_db[::-1])[::-1][early]
    dip = np.where(before >= body_db - NEAR_DB, np.minimum(before, after) - level, 0.0)
    deepest = int(np.argmax(dip))
    return float(since_s[deepest]) if dip[deepest] >= DIP_DB else None


def _all_together(frames: Frames, span: Span, dip_s: float) -> bool:
    """Whether three in four of the strong partials go down at that moment and come back."""
    part = frames_between(frames, span.start_s, min(span.end_s, span.start_s + 2.0 * WITHIN_S))
    level_db = decibels(frames.partials[part])
    at = round(dip_s / frames.hop_s) - part.start
    if not 0 < at < len(level_db) - 1:
        return False
    bodies = np.array([median(of_one) for of_one in level_db[at + 1 :].T])
    dips = np.minimum(level_db[:at].max(axis=0), level_db[at + 1 :].max(axis=0)) - level_db[at - 1 : at + 2].min(axis=0)
    return percentiles(dips[bodies > bodies.max() - STRONG_DB], TOGETHER_PERCENTILE)[0] >= TOGETHER_DB
