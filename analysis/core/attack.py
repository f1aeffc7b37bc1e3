"""The start of a tone: how fast it rises, where its pitch comes from, what sounds before it, whether it cracks.

Times are seconds, deviations cents against the tone's own pitch line (fitted from 0.4 s on, so that a scoop does not
bend what it is measured by). A tone that a slur runs into has no start of its own: then only a crack can be told.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.double_start import is_double
from analysis.core.glitches import middle_of_three
from analysis.core.level import envelope_between
from analysis.core.lines import through
from analysis.core.records import Attack, Frames, Span, Vibrato
from analysis.core.spectrum import HOP_S, frames_between
from analysis.core.units import cents_between, decibels, median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats

    Flags = NDArray[np.bool_]

WITHIN_DB = 3.0  # of the body: the tone is there
BODY_S = (0.2, 0.6)  # after the start: the level that the rise runs up to
ACCENT_S, ACCENT_BODY_S = 0.12, (0.3, 0.8)
SCOOP_S = (0.05, 0.25)
HEARD_DB = 15.0  # under the tone: what is softer is the tail of a dip or of the tone before, no pitch of this one
LINE_FROM_S, LINE_FOR_S = 0.4, 2.0
SETTLED_CENTS, SETTLED_FOR_S = 10.0, 0.25
STEADY_CENTS = 2.0  # what a steady tone wanders anyway
AIR_OVER_FLOOR_DB, MOST_AIR_S = 8.0, 0.8
SETS_IN_BLOCKS, SETS_IN_DB, EDGE_AIR_S = 20, 6.0, 0.05
TONE_BLOCKS = 4  # before the start, which already hold some of the tone
TONAL_BLOCKS = 8
TONAL_DB = 11.0  # prominence of a frame in which a tone sounds
SURE_SPREAD_CENTS = 60.0
CRACK_CENTS, CRACK_FRAMES, CRACK_DB = 250.0, 4, 12.0
GHOST_S, GHOST_DB, UNHEARD_DB = 0.25, 10.0, 9.0
EDGE_S = 0.005  # one standard deviation of the place of a start on a quiet take


@dataclass(frozen=True, slots=True)
class Onset:
    """What both halves of the reading look at: pitch against the tone and whether each frame can be trusted."""

    times_s: Doubles
    cents: Doubles  # against f0_hz, ghosts lifted
    sure: Flags
    power: Doubles  # tonal
    body: float  # its median


def read(
    frames: Frames, span: Span, f0_hz: float, floor_power: float, vibrato: Vibrato, spread_cents: float | None = None
) -> tuple[Attack, dict[str, float]]:
    """How one tone of ``f0_hz`` starts, and one standard deviation of each number.

    ``floor_power``: plain mean square of the room outside the tones; ``vibrato`` and ``spread_cents`` (steadiness) of
    its steady part.
    """
    onset = _onset(frames, span, f0_hz)
    cracked_at_s = _crack(onset, span)
    if span.slurred_in:
        return Attack(cracked=cracked_at_s is not None, cracked_at_s=cracked_at_s), {}
    times_s, level_db = envelope_between(frames, span.start_s, min(span.end_s, span.start_s + ACCENT_BODY_S[1]))
    body_db = _median(level_db, times_s - span.start_s, BODY_S)
    scoop_cents, settle_s = _pitch(onset, span, vibrato, spread_cents)
    attack = Attack(
        rise_s=_rise(times_s - span.start_s, level_db, body_db),
        scoop_cents=scoop_cents,
        settle_s=settle_s,
        cracked=cracked_at_s is not None,
        cracked_at_s=cracked_at_s,
        air_before_s=_air(frames, span, floor_power, body_db),
        double_start=is_double(frames, span, (times_s - span.start_s, level_db), body_db, vibrato, scoop_cents),
        accent_db=_accent(times_s - span.start_s, level_db),
    )
    errors = {"rise_s": EDGE_S, "settle_s": 0.01, "air_before_s": 0.0075, "scoop_cents": 1.0 + (spread_cents or 0.0)}
    return attack, {name: error for name, error in errors.items() if getattr(attack, name) is not None}


def _onset(frames: Frames, span: Span, f0_hz: float) -> Onset:
    part = frames_between(frames, span.start_s, span.end_s)
    times_s = np.arange(part.start, part.start + len(frames.f0_hz[part])) * frames.hop_s
    cents = cents_between(np.maximum(frames.f0_hz[part], 1.0), f0_hz)
    power = frames.tonal_power[part].astype(np.float64)
    body = median(power) if len(power) else 0.0
    unheard = np.where(times_s < span.start_s + GHOST_S, body * 10.0 ** (-UNHEARD_DB / 10.0), 0.0)
    for divisor in (2, 3):
        down = 1200.0 * math.log2(divisor)
        low = np.flatnonzero(np.abs(cents + down) < 100.0)
        if len(low):
            cents[low[_ghost(frames.partials[part][low], divisor, unheard[low])]] += down
    sure = (frames.spread_cents[part] < SURE_SPREAD_CENTS) & (frames.prominence_db[part] > TONAL_DB)
    return Onset(times_s, cents, sure, power, body)


def _ghost(partials: Floats, divisor: int, unheard: Doubles) -> Flags:
    """Frames whose own partials hold far less than those they share with the tone ``divisor`` times as high.

    High notes do start with a trace of the lower octave, 15 to 25 dB down, and a pitch tracker follows it; in a
    breathy tone it follows the noise. Nobody hears a crack. ``unheard``: power under which own partials count for
    nothing (while the tone still rises they may be strong beside it).
    """
    shared = (np.arange(1, partials.shape[1] + 1) % divisor) == 0
    own, tone = partials[:, ~shared].sum(axis=1), partials[:, shared].sum(axis=1)
    return np.asarray(own < np.maximum(tone * 10.0 ** (-GHOST_DB / 10.0), unheard))


def _crack(onset: Onset, span: Span) -> float | None:
    """When another partial sounded for 40 ms or more, at a level that is heard; None if never."""
    inside = (onset.times_s >= span.start_s) & (onset.times_s < span.end_s - 0.08)
    loud = onset.power > onset.body * 10.0 ** (-CRACK_DB / 10.0)
    off = inside & onset.sure & loud & (np.abs(onset.cents) > CRACK_CENTS)
    first = _first_run(off, CRACK_FRAMES)
    return None if first is None else float(onset.times_s[first])


def _rise(since_s: Doubles, level_db: Doubles, body_db: float | None) -> float | None:
    """Seconds from the start to the first place within 3 dB of the body, read between the blocks."""
    if body_db is None:
        return None
    reached = np.flatnonzero(level_db >= body_db - WITHIN_DB)
    if not len(reached):
        return None
    at = int(reached[0])
    if at == 0:
        return max(0.0, float(since_s[0]))
    step = (body_db - WITHIN_DB - level_db[at - 1]) / (level_db[at] - level_db[at - 1])
    return float(since_s[at - 1] + step * (since_s[at] - since_s[at - 1]))


def _pitch(onset: Onset, span: Span, vibrato: Vibrato, spread_cents: float | None) -> tuple[float | None, float | None]:
    """Scoop and settling time, both against the line of the pitch from 0.4 s on."""
    since_s = onset.times_s - span.start_s
    loud = onset.power > onset.body * 10.0 ** (-HEARD_DB / 10.0)
    near = onset.sure & loud & (np.abs(onset.cents) <= CRACK_CENTS)
    body = (
        near & (since_s >= LINE_FROM_S) & (since_s <= LINE_FROM_S + LINE_FOR_S) & (onset.times_s <= span.steady_end_s)
    )
    if np.count_nonzero(body) < 10:
        return None, None
    away = onset.cents - through(since_s[body], onset.cents[body]).at(since_s)
    swing = (vibrato.extent_cents or 0.0) if vibrato.present else 0.0
    window = near & (since_s >= SCOOP_S[0]) & (since_s <= SCOOP_S[1])
    scoop = None
    if np.count_nonzero(window) >= 3:
        # Of three neighbours the middle one: a single frame of 10 ms is no slide that could be heard.
        smooth = middle_of_three(away[window])
        largest = float(smooth[np.argmax(np.abs(smooth))])
        scoop = math.copysign(max(0.0, abs(largest) - swing), largest)
    # The body's own steadiness: with it in, a slide would let itself pass. Under a vibrato it is known from elsewhere.
    spread = (spread_cents or 0.0) if vibrato.present else float(np.std(away[body]))
    wander = max(0.0, spread - STEADY_CENTS)
    known = np.flatnonzero(onset.sure & loud)
    unsettled = np.zeros(len(away), dtype=bool)
    unsettled[known[1:-1]] = np.abs(middle_of_three(away[known])) > SETTLED_CENTS + swing + 2.0 * wander
    first = _first_run(~unsettled, round(SETTLED_FOR_S / HOP_S))
    return scoop, None if first is None else max(0.0, float(since_s[first]))


def _air(frames: Frames, span: Span, floor_power: float, body_db: float | None) -> float | None:
    """Seconds of unvoiced noise, 8 dB over the room or more, that run into the start without a gap."""
    times_s, level_db = envelope_between(frames, max(0.0, span.start_s - MOST_AIR_S), span.start_s)
    if span.start_s < 2.0 * frames.block_s or body_db is None:
        return None  # the recording begins with the tone
    floor_db = max(decibels(floor_power), body_db - 60.0)  # digital silence is no floor to be 8 dB over
    frame = np.clip(np.rint(times_s / frames.hop_s).astype(int), 0, len(frames.f0_hz) - 1)
    # The frame's window reaches into the tone itself; only frames wholly before it can say that something else sounds.
    before = times_s < span.start_s - 0.03
    tonal = before & (frames.prominence_db[frame] > TONAL_DB) & (frames.spread_cents[frame] < SURE_SPREAD_CENTS)
    tonal = _lasting(tonal, TONAL_BLOCKS)  # breath looks tonal for a frame or two
    stops = np.flatnonzero((level_db < floor_db + AIR_OVER_FLOOR_DB) | tonal)
    first = 0 if not len(stops) else int(stops[-1]) + 1
    air_s = float(len(times_s) - first) * frames.block_s
    around = level_db[max(0, first - SETS_IN_BLOCKS) : -TONE_BLOCKS]
    # Breath sets in; noise that climbs because the phone turns itself up does not.
    climbs = around[SETS_IN_BLOCKS:] - around[:-SETS_IN_BLOCKS]
    if air_s > EDGE_AIR_S and first and len(climbs) and climbs.max() < SETS_IN_DB:
        return 0.0
    return air_s


def _accent(since_s: Doubles, level_db: Doubles) -> float | None:
    """The loudest place of the first 0.12 s over the body's level, in dB."""
    early = since_s <= ACCENT_S
    body_db = _median(level_db, since_s, ACCENT_BODY_S)
    return None if body_db is None or not np.any(early) else float(level_db[early].max()) - body_db


def _median(level_db: Doubles, since_s: Doubles, between_s: tuple[float, float]) -> float | None:
    """Median level between two times after the start; None where the tone is too short for it."""
    inside = (since_s >= between_s[0]) & (since_s <= between_s[1])
    return median(level_db[inside]) if np.count_nonzero(inside) >= 10 else None


def _lasting(flags: Flags, length: int) -> Flags:
    """Those flags that stand in a row of at least ``length``."""
    if len(flags) < length:
        return np.zeros(len(flags), dtype=bool)
    starts = np.convolve(flags.astype(int), np.ones(length, int), mode="valid") == length
    return np.convolve(starts.astype(int), np.ones(length, int), mode="full") > 0


def _first_run(flags: Flags, length: int) -> int | None:
    """Where the first ``length`` flags in a row begin."""
    if len(flags) < length:
        return None
    runs = np.convolve(flags.astype(int), np.ones(length, int), mode="valid") == length
    return int(np.argmax(runs)) if np.any(runs) else None
