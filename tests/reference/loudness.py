"""ITU-R BS.1770 gating and EBU Tech 3341 / 3342 meters, written here on top of the K-weighted envelopes under test.

The product weights and windows, but never gates (a gate would throw the soft part of a swell away); so the gates are
the tests' own. Sources: ITU-R BS.1770-5 annex 1 (blocks of 400 ms, 75 % overlap, gates at -70 LUFS and -10 LU, channel
weights 1, 1, 1, 1.41, 1.41), EBU Tech 3341 (momentary 400 ms, short-term 3 s), EBU Tech 3342 (range: 3 s blocks, gates
at -70 LUFS and -20 LU, 10th to 95th percentile); the last two from memory.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from analysis.core.level import BLOCK_S, Envelopes

CHANNEL_WEIGHTS = (1.0, 1.0, 1.0, 1.41, 1.41)  # left, right, centre, left and right surround
MOMENTARY_S, SHORT_TERM_S = 0.4, 3.0


def loudness_of(power: NDArray[np.float64]) -> NDArray[np.float64]:
    return -0.691 + 10 * np.log10(np.maximum(power, 1e-20))


def weighted_blocks(channels: Sequence[NDArray[np.float64]], rate_hz: int) -> NDArray[np.float64]:
    """K-weighted 5 ms mean squares of the product, summed over the channels with the weights of BS.1770."""
    total = 0.0
    for weight, channel in zip(CHANNEL_WEIGHTS, channels, strict=False):
        envelopes = Envelopes(rate_hz)
        for start in range(0, len(channel), 24_000):  # in stretches, as the product hears it
            envelopes.add(channel[start : start + 24_000].astype(np.float32))
        total = total + weight * envelopes.powers()[1]
    return np.asarray(total)


def windows(blocks: NDArray[np.float64], window_s: float, hop_s: float) -> NDArray[np.float64]:
    """Mean power of each whole window."""
    width, hop = round(window_s / BLOCK_S), round(hop_s / BLOCK_S)
    sums = np.concatenate(([0.0], np.cumsum(blocks)))
    firsts = np.arange(0, len(blocks) - width + 1, hop)
    return (sums[firsts + width] - sums[firsts]) / width


def momentary(blocks: NDArray[np.float64], hop_s: float = 0.1) -> NDArray[np.float64]:
    return loudness_of(windows(blocks, MOMENTARY_S, hop_s))


def short_term(blocks: NDArray[np.float64], hop_s: float = 0.1) -> NDArray[np.float64]:
    return loudness_of(windows(blocks, SHORT_TERM_S, hop_s))


def integrated(blocks: NDArray[np.float64]) -> float:
    power = windows(blocks, MOMENTARY_S, 0.1)
    power = power[loudness_of(power) > -70]
    return float(loudness_of(power[loudness_of(power) > loudness_of(power.mean()) - 10].mean()))


def loudness_range(blocks: NDArray[np.float64]) -> float:
    power = windows(blocks, SHORT_TERM_S, 0.1)
    power = power[loudness_of(power) > -70]
    kept = loudness_of(power[loudness_of(power) > loudness_of(power.mean()) - 20])
    low, high = np.percentile(kept, [10, 95])
    return float(high - low)
