"""The stop of a tone: tapered, clipped or with a bump, and whether the pitch sags as it dies.

In a room the tail is the room's: a stop cannot be read shorter than it, so "clipped" is said only of what falls
faster than any room, and what falls slowly may be the player's taper or the room's.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.glitches import middle_of_three
from analysis.core.level import envelope_between
from analysis.core.lines import Line, through
from analysis.core.records import Frames, Release, Span
from analysis.core.spectrum import frames_between
from analysis.core.units import cents_between, decibels, median

if TYPE_CHECKING:
    from analysis.core.records import Doubles

AFTER_S = 1.0  # how long after the stop the fall is followed
FALL_DB = (3.0, 20.0)  # the fall is timed between these two places under the tone
FALL_ERROR_S = 0.005  # one step of the envelope
CLIPPED_S = 0.025
TAPERED_S = 0.080
BUMP_S, BUMP_DB, BUMP_FOR_S = 0.25, 3.0, 0.05
BODY_S = (0.3, 1.1)  # before the stop: what the end is held against
SAG_S = 0.2
SURE_SPREAD_CENTS, TONAL_DB = 60.0, 11.0


def read(
    frames: Frames, span: Span, f0_hz: float, floor_power: float = 0.0, extent_cents: float = 0.0
) -> tuple[Release, dict[str, float]]:
    """How one tone of ``f0_hz`` stops.

    ``floor_power``: plain mean square of the room; ``extent_cents`` of its vibrato, 0 without. A tone that slurs into
    the next has no stop of its own.
    """
    if span.slurred_out:
        return Release(), {}
    times_s, level_db = envelope_between(frames, max(span.start_s, span.end_s - BODY_S[1]), span.end_s + AFTER_S)
    since_s = times_s - span.end_s
    before = (since_s >= -BODY_S[1]) & (since_s <= -BODY_S[0])
    if np.count_nonzero(before) < 20 or span.end_s + 0.05 > frames.duration_s:
        return Release(), {}
    line = through(since_s[before], level_db[before])
    fall_s = _fall(since_s, level_db, line.value(0.0), decibels(floor_power))
    sag_cents = _sag(frames, span, f0_hz, extent_cents)
    swing_db = float(np.std(level_db[before] - line.at(since_s[before])))
    kind = "bumped" if _bump(since_s, level_db, line, swing_db) else _kind(fall_s)
    errors = {"sag_cents": 2.0} if sag_cents is not None else {}
    errors |= {"fall_s": FALL_ERROR_S} if fall_s is not None else {}
    return Release(kind, sag_cents, fall_s), errors


def _kind(fall_s: float | None) -> str | None:
    if fall_s is None or CLIPPED_S < fall_s < TAPERED_S:
        return None
    return "clipped" if fall_s <= CLIPPED_S else "tapered"


def _fall(since_s: Doubles, level_db: Doubles, tone_db: float, floor_db: float) -> float | None:
    """Seconds from 3 dB to 20 dB under the tone before its stop; None where the room's noise hides the lower place."""
    if tone_db - FALL_DB[1] < floor_db + 3.0:
        return None
    over = np.flatnonzero(level_db >= tone_db - FALL_DB[0])
    under = np.flatnonzero(level_db[over[-1] :] < tone_db - FALL_DB[1]) if len(over) else over
    step_s = round(float(since_s[1] - since_s[0]), 6)  # a grid, whose last digits must not decide at a limit
    return round(float(under[0]) * step_s, 6) if len(under) else None


def _bump(since_s: Doubles, level_db: Doubles, line: Line, swing_db: float) -> bool:
    """Whether the end stands up over where the tone was heading, for longer than a room that is let go can make it.

    ``swing_db``: how far the level swings by itself, as a vibrato makes it do in a room.
    """
    end = (since_s >= -BUMP_S) & (since_s <= 0.0)
    over = level_db[end] - line.at(since_s[end]) >= BUMP_DB + 2.0 * swing_db
    return bool(np.count_nonzero(over) * (since_s[1] - since_s[0]) >= BUMP_FOR_S)


def _sag(frames: Frames, span: Span, f0_hz: float, extent_cents: float) -> float | None:
    """Largest deviation of the last 200 ms from the pitch before, in cents, negative when it falls.

    What vibrato explains is taken off.
    """
    part = frames_between(frames, span.end_s - BODY_S[1], span.end_s)
    since_s = np.arange(part.start, part.start + len(frames.f0_hz[part])) * frames.hop_s - span.end_s
    cents = cents_between(np.maximum(frames.f0_hz[part], 1.0), f0_hz)
    sure = (frames.spread_cents[part] < SURE_SPREAD_CENTS) & (frames.prominence_db[part] > TONAL_DB)
    sure &= np.abs(cents) < 250.0
    before, last = sure & (since_s <= -BODY_S[0]), sure & (since_s >= -SAG_S)
    if np.count_nonzero(before) < 20 or np.count_nonzero(last) < 5:
        return None
    away = cents[last] - median(cents[before])
    smooth = middle_of_three(away)  # one wild frame is no sag
    largest = float(smooth[np.argmax(np.abs(smooth))])
    return math.copysign(max(0.0, abs(largest) - extent_cents), largest)
