"""Level: K-weighting (ITU-R BS.1770-5, annex 1) at 24 kHz, and what is read from the 5 ms envelopes."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import convolve1d
from scipy.signal import sosfilt

from analysis.core.units import decibels

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Floats, Frames

BLOCK_S = 0.005
TENTH = 20  # blocks
STILL = 1e-12  # mean square, far under the rounding of 16 bits: digital silence weighs no more than that
OFFSET_DB = -0.691  # BS.1770: loudness = -0.691 + 10 log10(weighted mean square)

# The analogue filters behind the 48 kHz table of BS.1770: found by undoing its bilinear transform.
SHELF_HZ, SHELF_Q, SHELF_DB, SHELF_MIDDLE = 1681.974450955533, 0.7071752369554196, 3.999843853973347, 0.4996667741545416
HIGH_PASS_HZ, HIGH_PASS_Q = 38.13547087602444, 0.5003270373238773
TABLE_TOP = 1.00499  # the table's high-pass passes the top of the band 0.043 dB louder than it came; so must ours


def k_weighting(rate_hz: int) -> Doubles:
    """Two second-order sections (2, 6) that weight like the 48 kHz table of BS.1770, at another rate."""
    k = math.tan(math.pi * SHELF_HZ / rate_hz)
    high = 10.0 ** (SHELF_DB / 20.0)
    middle = high**SHELF_MIDDLE
    a0 = 1.0 + k / SHELF_Q + k * k
    shelf = [
        (high + middle * k / SHELF_Q + k * k) / a0,
        2.0 * (k * k - high) / a0,
        (high - middle * k / SHELF_Q + k * k) / a0,
        1.0,
        2.0 * (k * k - 1.0) / a0,
        (1.0 - k / SHELF_Q + k * k) / a0,
    ]
    k = math.tan(math.pi * HIGH_PASS_HZ / rate_hz)
    a0 = 1.0 + k / HIGH_PASS_Q + k * k
    a1, a2 = 2.0 * (k * k - 1.0) / a0, (1.0 - k / HIGH_PASS_Q + k * k) / a0
    gain = (1.0 - a1 + a2) / 4.0 * TABLE_TOP
    return np.array([shelf, [gain, -2.0 * gain, gain, 1.0, a1, a2]])


class Envelopes:
    """Mean squares of 5 ms blocks, plain and K-weighted, of sound that comes in stretches of any length."""

    def __init__(self, rate_hz: int) -> None:
        self._sections = k_weighting(rate_hz)
        self._state = np.zeros((2, 2))
        self._size = round(BLOCK_S * rate_hz)
        self._ones = np.full(self._size, 1.0 / self._size)
        self._rest = np.zeros(0, np.float32)  # too short for a block
        self._means: list[Doubles] = []
        self._plain: list[Doubles] = []
        self._weighted: list[Doubles] = []

    def add(self, samples: Floats) -> None:
        samples = np.concatenate((self._rest, samples))
        whole = len(samples) // self._size * self._size
        if whole:
            plain = samples[:whole].astype(np.float64)
            self._means.append(plain.reshape(-1, self._size) @ self._ones)
            weighted, self._state = sosfilt(self._sections, plain, zi=self._state)
            self._plain.append(self._mean_squares(plain))
            self._weighted.append(self._mean_squares(weighted))
        self._rest = samples[whole:]

    def powers(self) -> tuple[Doubles, Doubles]:
        """Plain, K-weighted; a last block that is not full is left out.

        Some microphones stand off zero by a constant, which nobody hears (K-weighting lets none of it through) and
        which would lie over the plain blocks as noise: it is taken off them. The quietest tenths of a second tell it
        best; single blocks are shorter than a low tone's cycle and would lean to the side on which it lies longer.
        """
        plain, weighted, means = (
            np.concatenate([np.zeros(0), *parts]) for parts in (self._plain, self._weighted, self._means)
        )
        if len(plain):
            firsts = np.arange(0, len(plain), TENTH)
            counts = np.diff(np.append(firsts, len(plain)))
            middles, powers = (np.add.reduceat(values, firsts) / counts for values in (means, plain))
            moving = np.maximum(powers - middles**2, 0.0) + STILL
            off_zero = float(np.average(middles, weights=counts / moving))
            plain += off_zero * (off_zero - 2.0 * means)
            np.maximum(plain, 0.0, out=plain)
        return plain, weighted

    def _mean_squares(self, samples: Doubles) -> Doubles:
        squares = np.square(samples, out=samples).reshape(-1, self._size)
        means: Doubles = squares @ self._ones
        return means


def blocks_between(frames: Frames, start_s: float, end_s: float) -> slice:
    """The 5 ms blocks that lie between two times, at least one."""
    first = min(max(0, math.ceil(start_s / frames.block_s - 1e-6)), max(0, len(frames.plain_power) - 1))
    return slice(first, max(first + 1, math.floor(end_s / frames.block_s + 1e-6)))


def level_db(frames: Frames, start_s: float, end_s: float) -> float:
    """K-weighted level of a stretch re full scale (BS.1770, mono, ungated): a full-scale 997 Hz sine reads -3.01."""
    return OFFSET_DB + decibels(float(frames.weighted_power[blocks_between(frames, start_s, end_s)].mean()))


def level_course(
    frames: Frames, start_s: float, end_s: float, window_s: float = 0.1, step_s: float = 0.025
) -> tuple[Doubles, Doubles]:
    """(times of the window centres in take seconds, K-weighted levels in dB); empty where no window fits."""
    powers = frames.weighted_power[blocks_between(frames, start_s, end_s)]
    width, step = round(window_s / frames.block_s), round(step_s / frames.block_s)
    if len(powers) < width:
        return np.zeros(0), np.zeros(0)
    sums = np.concatenate(([0.0], np.cumsum(powers)))
    firsts = np.arange(0, len(powers) - width + 1, step)
    means = (sums[firsts + width] - sums[firsts]) / width
    start = blocks_between(frames, start_s, end_s).start
    return (start + firsts + width / 2.0) * frames.block_s, OFFSET_DB + decibels(means)


def envelope_db(frames: Frames) -> Doubles:
    """Plain level of the whole take, 5 ms blocks smoothed over 20 ms; value i belongs to ``(i + 0.5) * block_s``."""
    return _smoothed_db(frames.plain_power)


def envelope_between(frames: Frames, start_s: float, end_s: float) -> tuple[Doubles, Doubles]:
    """(times of the block centres in take seconds, smoothed plain level in dB) of one stretch only."""
    part = blocks_between(frames, start_s, end_s)
    around = slice(max(0, part.start - 2), part.stop + 2)
    level_db = _smoothed_db(frames.plain_power[around])
    first = part.start - around.start
    level_db = level_db[first : first + part.stop - part.start]
    return (part.start + np.arange(len(level_db)) + 0.5) * frames.block_s, level_db


def _smoothed_db(powers: Doubles) -> Doubles:
    if not len(powers):
        return np.zeros(0)
    kernel = np.array([0.125, 0.25, 0.25, 0.25, 0.125])  # half weight on the outer two: nothing shifts in time
    smooth: Doubles = convolve1d(powers, kernel, mode="nearest")
    return decibels(smooth)
