"""Vibrato: are the waves there, how fast, how wide, how even?

Input is the pitch of a steady part, less its slow line. A wave is vibrato when it is wide enough to be meant, when
one rate holds most of the movement, and when its cycles are alike; a slow waver of the lip is none of that and stays
in the steadiness.

Extent is half the distance from peak to peak, in cents (Prame 1997, JASA 102:616, from memory); rate is cycles per
second. A room shrinks the extent and leaves the rate: what is read is "at least".
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.lines import through
from analysis.core.records import Vibrato
from analysis.core.units import median

if TYPE_CHECKING:
    from analysis.core.records import Doubles

FREE_RATES_HZ = (3.0, 9.0)  # what a player's own vibrato may be; slower waves count when a pulse was set
PULSE_SHARES = (0.6, 1.6)  # of the pulse that was set
SLOWEST_HZ, FASTEST_HZ = 0.6, 9.5  # with a pulse of 0.8 to 9 Hz the wave may lie a little beside it
MOVEMENT_HZ = (0.8, 14.0)  # the movement that the wave must dominate
LEAST_EXTENT_CENTS = 4.5  # half peak to peak: well over the 2 to 3 cents that a steady tone wanders
LEAST_PULSED_CENTS = 3.8  # where a wave was asked for, 8 cents from peak to peak are one
NEAR_HZ = 1.1  # about the rate: what counts as the wave (of a slow one at most 0.4 of the rate)
STILL_CENTS = 1.0  # standard deviation of a pitch that cannot hold the smallest wave, even half smoothed away
LEAST_SHARE = 0.6
LEAST_PULSED_SHARE = 0.35  # a room bends a wide wave into its own multiples; where one was asked for, that is still it
MOST_RATE_CV = 0.3
LEAST_SECONDS = 0.8
LEAST_CYCLES = 2.5
PADDING = 8
CV_ERROR = 0.006  # one standard deviation, on waves whose cycles were drawn with a known spread
# That the fits reach over: short enough for uneven waves, long enough to part the two.
WAVE_CYCLES, SLOWER_CYCLES = 1.5, 3.0
# Found with waves of 6 to 50 cents, 4 to 8.5 Hz, on tones of 73 to 830 Hz: within 1.2 % (window 64 ms), 2.3 % (128 ms).
WIDE_KEEPS, WIDE_BINS = 0.46, 0.77


@dataclass(frozen=True, slots=True)
class Reading:
    """``wave_cents``: the vibrato itself, step by step (zeros where there is none), not part of the unsteadiness."""

    vibrato: Vibrato
    wave_cents: Doubles
    errors: dict[str, float] = field(default_factory=dict)


def read(cents: Doubles, step_s: float, window_s: float, pulses_per_second: float = 0.0, f0_hz: float = 0.0) -> Reading:
    """Look for vibrato in ``cents``, the pitch of a steady part every ``step_s`` seconds (NaN where none was read).

    ``window_s`` is the length of the Hann window behind each value, which smooths fast waves; the loss is known and
    given back, for wide waves with ``f0_hz``. ``pulses_per_second`` is the pulse that was set, 0 if none. Too short a
    part has no vibrato to speak of.
    """
    count = len(cents)
    none = Reading(Vibrato(present=False), np.zeros(count))
    known = np.isfinite(cents)
    if count * step_s < LEAST_SECONDS or np.count_nonzero(known) < 0.8 * count:
        return none
    steps = np.arange(count, dtype=np.float64)
    filled = np.interp(steps, steps[known], cents[known])
    plain = filled - through(steps, filled).at(steps)
    low_hz, high_hz = rates(pulses_per_second)
    if float(np.std(plain)) < STILL_CENTS:
        return none
    found = _strongest(plain, step_s, low_hz, high_hz)
    if found is None or found[0] * count * step_s < LEAST_CYCLES:
        return none
    rate_hz, share = found
    if share < (LEAST_PULSED_SHARE if pulses_per_second > 0.0 else LEAST_SHARE):
        return none
    wave, _ = _fitted(plain, step_s, rate_hz, WAVE_CYCLES)
    _, slower = _fitted(plain, step_s, rate_hz, SLOWER_CYCLES)
    lengths_s, extents = _cycles(wave, plain - slower, step_s, rate_hz)
    if len(lengths_s) < 2:
        return none
    rate_cv = float(np.std(lengths_s) / np.mean(lengths_s))
    extent = extent_before_window(median(extents), rate_hz, window_s, f0_hz)
    least = LEAST_PULSED_CENTS if pulses_per_second > 0.0 else LEAST_EXTENT_CENTS
    if extent < least or rate_cv >= MOST_RATE_CV:
        return none
    extent_cv = float(np.std(extents) / np.mean(extents))
    # Errors: the scatter of the cycles over the root of their number; of the extent also the wander beside them.
    root = math.sqrt(len(lengths_s))
    wander = float(np.std(plain - wave)) / root
    errors = {"rate_hz": rate_hz * rate_cv / root, "extent_cents": math.hypot(extent * extent_cv / root, wander)}
    errors |= {"rate_cv": CV_ERROR, "extent_cv": math.hypot(CV_ERROR, wander / extent)}
    return Reading(Vibrato(True, rate_hz, extent, rate_cv, extent_cv), wave, errors)


def rates(pulses_per_second: float) -> tuple[float, float]:
    """The rates in which vibrato is looked for, lowest and highest in Hz."""
    if pulses_per_second <= 0.0:
        return FREE_RATES_HZ
    low, high = (share * pulses_per_second for share in PULSE_SHARES)
    return max(low, SLOWEST_HZ), min(high, FASTEST_HZ)


def kept_of_swing(rate_hz: float, window_s: float) -> float:
    """What is left of a small wave's extent after a Hann window of ``window_s`` and the 20 ms of the phase difference.

    The transform of a Hann window at ``x = rate * length`` is sinc(x) / (1 - x²).
    """
    x = rate_hz * window_s
    hann = 0.5 if abs(x - 1.0) < 1e-6 else np.sinc(x) / (1.0 - x * x)
    return float(hann * np.sinc(rate_hz / 50.0))


def extent_before_window(seen_cents: float, rate_hz: float, window_s: float, f0_hz: float) -> float:
    """The extent of a wave of which ``seen_cents`` are left. ``f0_hz`` 0: as if the wave were small.

    A wide wave smears its partials over several bins, and the phase of a bin then follows it more closely than the
    window alone would let it; so less was lost.
    """
    kept = kept_of_swing(rate_hz, window_s)
    extent = seen_cents / kept
    for _ in range(3):
        bins = f0_hz * (2.0 ** (extent / 1200.0) - 1.0) * window_s
        given_back = WIDE_KEEPS * (1.0 - math.exp(-bins / WIDE_BINS))
        extent = seen_cents / (1.0 - (1.0 - kept) * (1.0 - given_back))
    return extent


def _strongest(plain: Doubles, step_s: float, low_hz: float, high_hz: float) -> tuple[float, float] | None:
    """The rate of the strongest wave between the two, and the share of the movement that lies about it."""
    count = len(plain)
    spectrum = np.abs(np.fft.rfft(plain * np.hanning(count), PADDING * count)) ** 2
    rate = np.fft.rfftfreq(PADDING * count, step_s)
    inside = np.flatnonzero((rate >= low_hz) & (rate <= high_hz))
    if not len(inside):
        return None
    peak = int(inside[np.argmax(spectrum[inside])])
    if peak in (0, len(spectrum) - 1) or spectrum[peak] < max(spectrum[peak - 1], spectrum[peak + 1]):
        return None  # the flank of something outside, not a peak
    slower = spectrum[(rate >= MOVEMENT_HZ[0]) & (rate < low_hz)]
    if len(slower) and slower.max() > spectrum[peak]:
        return None  # what moves the pitch most is slower than any vibrato looked for
    left, mid, right = np.log(spectrum[peak - 1 : peak + 2] + 1e-300)
    bend = left - 2.0 * mid + right
    rate_hz = float(rate[peak] + (0.5 * (left - right) / bend if bend < 0.0 else 0.0) * rate[1])
    near = np.abs(rate - rate_hz) <= max(min(NEAR_HZ, 0.4 * rate_hz), 2.0 / (count * step_s))
    movement = (rate >= min(MOVEMENT_HZ[0], 0.5 * rate_hz)) & (rate <= MOVEMENT_HZ[1])
    total = float(np.sum(spectrum[movement | near]))
    return (rate_hz, float(np.sum(spectrum[near])) / total) if total > 0.0 else None


def _fitted(plain: Doubles, step_s: float, rate_hz: float, cycles: float) -> tuple[Doubles, Doubles]:
    """What of ``plain`` swings at the rate, and what is slower: round each moment a line and a sine over some cycles.

    A fit needs no tapering at the ends, where filtering would lose a cycle; there the nearest whole fit serves.
    """
    count = len(plain)
    half = min((count - 1) // 2, max(2, round(0.5 * cycles / (rate_hz * step_s))))
    place = np.arange(-half, half + 1)
    turn = 2.0 * np.pi * rate_hz * step_s * place
    basis = np.stack([np.ones_like(turn), place / half, np.cos(turn), np.sin(turn)], axis=1)
    fits = np.lib.stride_tricks.sliding_window_view(plain, 2 * half + 1) @ np.linalg.pinv(basis).T

    def course(terms: slice, middle: int) -> Doubles:
        ends = basis[:, terms]
        return np.concatenate([ends[:half] @ fits[0, terms], fits[:, middle], ends[half + 1 :] @ fits[-1, terms]])

    return course(slice(2, 4), 2), course(slice(0, 2), 0)


def _cycles(wave: Doubles, swing: Doubles, step_s: float, rate_hz: float) -> tuple[Doubles, Doubles]:
    """Lengths of the whole cycles, upward crossing to upward crossing, in seconds; their half peak-to-peak extents.

    ``wave`` says where the crossings are about, ``swing`` (the pitch less what is slower) exactly: the fitted wave is
    more even than the player was.
    """
    up = np.flatnonzero((wave[:-1] < 0.0) & (wave[1:] >= 0.0))
    if len(up) < 3:
        return np.zeros(0), np.zeros(0)
    exact = up + wave[up] / (wave[up] - wave[up + 1])
    reach = max(1, round(0.06 / (rate_hz * step_s)))
    for _ in range(2):
        near = np.clip(np.rint(exact).astype(int)[:, None] + np.arange(-reach, reach + 1), 0, len(swing) - 1)
        away = near - near.mean(axis=1, keepdims=True)
        slope = (away * swing[near]).sum(axis=1) / np.maximum(np.square(away).sum(axis=1), 1.0)
        moved = near.mean(axis=1) - swing[near].mean(axis=1) / np.where(slope > 0.0, slope, np.inf)
        exact = np.where(np.abs(moved - exact) <= 2.0 * reach, moved, exact)
    edges = up[:-1] + 1
    tops = np.maximum.reduceat(wave[: up[-1] + 1], edges)
    bottoms = np.minimum.reduceat(wave[: up[-1] + 1], edges)
    return np.diff(exact) * step_s, (tops - bottoms) / 2.0
