"""Where anything tonal sounds at all: the room's floor, voiced frames, and runs of them."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.ndimage import maximum_filter1d, median_filter, minimum_filter1d

from analysis.core import hum
from analysis.core.units import midi_of_hz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats, Frames

    Flags = NDArray[np.bool_]

DIGITAL_SILENCE = 1e-12  # no microphone is that quiet: a mean square under it was written by a program
QUIET_FRAMES = 10  # blocks of 100 ms …
QUIET_PROMINENCE_DB = 9.0  # … in which at most one frame sounds like a tone
FLOOR_PERCENTILE = 10
VOICED_PROMINENCE_DB, VOICED_SPREAD_CENTS, OVER_FLOOR = 11.0, 60.0, 2.0  # 3 dB over the floor
HELD_PROMINENCE_DB, HELD_FRAMES, HELD_SEMITONES = 6.5, 11, 0.2
MAJORITY = 5
FILLED_FRAMES = 3


def floor_power(frames: Frames) -> float:
    """Mean square of the room without the instrument: the quiet tenth of the blocks that hold no tone.

    Hum of the mains is no tone. A take that is slurred from end to end holds no such block; then the noise between its
    partials stands for it.
    """
    powers, prominence_db, f0_hz = _blocks(frames)
    tonal = prominence_db > QUIET_PROMINENCE_DB
    quiet = powers[(tonal.sum(axis=1) <= 1) | hum.blocks(f0_hz, powers, frames.lowest_hz)]
    if len(quiet) == 0:
        quiet = frames.noise_power[frames.noise_power > DIGITAL_SILENCE].astype(np.float64)
    return float(np.percentile(quiet, FLOOR_PERCENTILE)) if len(quiet) else DIGITAL_SILENCE


def hums(frames: Frames) -> bool:
    """Whether the mains are heard where nothing else is."""
    powers, _, f0_hz = _blocks(frames)
    return bool(hum.blocks(f0_hz, powers, frames.lowest_hz).any())


def _blocks(frames: Frames) -> tuple[Doubles, Floats, Doubles]:
    """Of every 100 ms but digital silence: plain mean square, prominence and pitch of its ten frames (blocks, 10)."""
    per_block = QUIET_FRAMES * round(frames.hop_s / frames.block_s)
    count = min(len(frames.f0_hz) // QUIET_FRAMES, len(frames.plain_power) // per_block)
    powers = frames.plain_power[: count * per_block].reshape(count, per_block).mean(axis=1)
    heard = powers > DIGITAL_SILENCE
    prominence_db = frames.prominence_db[: count * QUIET_FRAMES].reshape(count, QUIET_FRAMES)
    f0_hz = frames.f0_hz[: count * QUIET_FRAMES].reshape(count, QUIET_FRAMES)
    return powers[heard], prominence_db[heard], f0_hz[heard]


def voiced(frames: Frames, midi: Doubles, floor: float) -> Flags:
    """(frames,) whether a tone sounds: prominent, harmonic and over the floor; majority of five, small holes filled.

    ``midi`` from ``semitones``, ``floor`` from ``floor_power``. A very airy tone is less prominent, but keeps its
    pitch, which noise never does.
    """
    prominent = frames.prominence_db > VOICED_PROMINENCE_DB
    prominent |= (frames.prominence_db > HELD_PROMINENCE_DB) & _held(midi)
    sounds = prominent & (frames.spread_cents < VOICED_SPREAD_CENTS) & (frames.tonal_power > OVER_FLOOR * floor)
    votes = np.convolve(sounds.astype(np.int8), np.ones(MAJORITY, np.int8), mode="same")
    return filled(votes > MAJORITY // 2, FILLED_FRAMES)


def _held(midi: Doubles) -> Flags:
    """(frames,) whether the pitch lies still for 50 ms before and after."""
    reach = maximum_filter1d(midi, HELD_FRAMES, mode="nearest")
    reach -= minimum_filter1d(midi, HELD_FRAMES, mode="nearest")
    held: Flags = reach < HELD_SEMITONES
    return held


def filled(flags: Flags, longest: int) -> Flags:
    """``flags`` with every hole of at most ``longest`` frames between two true stretches closed."""
    closed = flags.copy()
    stretches = runs(flags)
    for (_, end), (first, _) in pairwise(stretches):
        if first - end <= longest:
            closed[end:first] = True
    return closed


def runs(flags: Flags) -> list[tuple[int, int]]:
    """[first, end) of every true stretch."""
    edges = np.diff(np.concatenate(([0], flags.astype(np.int8), [0])))
    return list(zip(np.flatnonzero(edges == 1).tolist(), np.flatnonzero(edges == -1).tolist(), strict=True))


def semitones(frames: Frames) -> Doubles:
    """(frames,) pitch as a MIDI number, running median of five."""
    midi = midi_of_hz(np.maximum(frames.f0_hz, 1.0))
    smooth: Doubles = median_filter(midi, 5, mode="nearest")
    return smooth
