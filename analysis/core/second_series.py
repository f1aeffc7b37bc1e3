"""A second harmonic series beside the first in one spectrum: what is left when the partials of f0 are taken out.

Looked for six times a second, in a window long enough to part low notes a semitone from each other. A series is a
pitch on whose partials narrow peaks stand, nearly all that the first leaves uncovered (subharmonic counting after
Hermes 1988, "Measurement of pitch by subharmonic summation", JASA 83:257: here misses are counted against it, so that
neither its octave below nor noise passes). The numbers are ours, tried on mixtures of real takes.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from scipy import fft

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats

    Flags = NDArray[np.bool_]
    Places = NDArray[np.intp]

FIRST_FRAME, EVERY_FRAMES = 8, 16  # a stretch of 256 frames holds whole windows round each of these
WINDOW_SAMPLES = 4096
TOP_HZ = 4_000.0
PARTIALS, LEAST_PARTIALS, MOST_MISSED = 8, 3, 1.0 / 3.0  # missed: as a share of those that stand
OWN_HZ, OWN_SHARE = 18.0, 0.012  # either side of the first one's partials: the window's lobe, and its vibrato
LEAST_REST = 2e-3  # of all power, left by the first series: 2 dB under the faintest that another_player.py asks for
LEAST_OF_LOUDEST = 1e-4  # of the loudest look in the stretch: the rest are pauses
STANDS_OUT = 10.0  # a peak's power over that of the sound 30 to 40 Hz to its quieter side
BESIDE, EDGE, NOWHERE = (5, 6, 7), 8, 1  # bins; nothing is looked for in the second, at 6 Hz
LOWEST_HZ, HIGHEST_HZ, PER_OCTAVE = 100.0, 1_300.0, 96
SAME_CLASS_SEMITONES = 0.5
# A vibrato shows both its turns in a window as long as its cycle, above all in a room: so far as the pitch moves in the
# window nothing is looked for beside it. Farther it only jumps, as between two players.
WINDOW_FRAMES, MOST_MOVED_SEMITONES = 8, 1.4
PEAK_TO_LOBE = 1.5  # a Hann lobe holds one and a half times its highest bin
AT_ONCE = 64  # looks that are searched together


class Looks(NamedTuple):
    """Of one stretch: which looks leave something to search (looks,), and of those power and what ``_free`` says."""

    rest: Flags
    power: Floats
    free: Flags
    f0_hz: Floats
    moved_semitones: Floats


class SecondSeries:
    """Everything about the search that depends only on rate and hop."""

    def __init__(self, window_samples: int, hop_samples: int, rate_hz: int) -> None:
        """``window_samples``: of the frames that share a stretch with it."""
        self.offset = window_samples // 2 + hop_samples - WINDOW_SAMPLES // 2
        self.hop_samples = hop_samples
        self.window = np.hanning(WINDOW_SAMPLES + 1)[:-1].astype(np.float32)
        self.scale = np.float32(2.0 / (WINDOW_SAMPLES * np.square(self.window).sum()))
        self.bin_hz = rate_hz / WINDOW_SAMPLES
        self.f_hz = (np.arange(int(TOP_HZ / self.bin_hz)) * self.bin_hz).astype(np.float32)
        self.candidates_hz, self.bins = _candidates(len(self.f_hz), self.bin_hz)
        self._waiting: list[Looks] = []
        self._seen: list[Floats] = []

    def look(self, stretch: Floats, f0_hz: Doubles) -> None:
        """Look at every 16th frame of a stretch, from the 8th. ``f0_hz``: (frames,) the first pitch of each frame."""
        frames = np.arange(FIRST_FRAME, len(f0_hz), EVERY_FRAMES)
        frames = frames[self.offset + self.hop_samples * frames + WINDOW_SAMPLES <= len(stretch)]
        if not len(frames):
            return
        starts = self.offset + self.hop_samples * frames
        windows = np.lib.stride_tricks.sliding_window_view(stretch, WINDOW_SAMPLES)[starts]
        squares = np.square(fft.rfft(windows * self.window)[:, : len(self.f_hz)].view(np.float32))
        power = squares[:, 0::2] + squares[:, 1::2]
        around = np.minimum(frames[:, None] + np.arange(-WINDOW_FRAMES, WINDOW_FRAMES + 1), len(f0_hz) - 1)
        near_hz = np.maximum(f0_hz[around], 1.0).astype(np.float32)
        moved = np.minimum(12.0 * np.log2(near_hz.max(axis=1) / near_hz.min(axis=1)), MOST_MOVED_SEMITONES)
        first_hz = near_hz[:, WINDOW_FRAMES]
        free = self._free(first_hz, moved)
        whole_power = power.sum(axis=1)
        rest = np.einsum("ij,ij->i", power, free.astype(np.float32)) > LEAST_REST * whole_power
        rest &= whole_power > LEAST_OF_LOUDEST * whole_power.max()
        self._waiting.append(Looks(rest, power[rest], free[rest], first_hz[rest], moved[rest]))
        if sum(len(looks.power) for looks in self._waiting) >= AT_ONCE:
            self._work_off()

    def seen(self) -> tuple[Floats, Floats]:
        """(other_hz, other_power) of all looks so far; 0 where there is no second series."""
        self._work_off()
        other_hz, other_power = np.concatenate([np.zeros((2, 0), np.float32), *self._seen], axis=1)
        return other_hz, other_power

    def _work_off(self) -> None:
        """Many looks at once: one horn alone leaves a few in each stretch, and a few cost as much as many."""
        if not self._waiting:
            return
        rest, *parts = (np.concatenate(of_all) for of_all in zip(*self._waiting, strict=True))
        self._waiting = []
        other = np.zeros((2, len(rest)), np.float32)
        if rest.any():
            other[:, rest] = self._found(*parts)
        self._seen.append(other)

    def _free(self, f0_hz: Floats, moved_semitones: Floats) -> Flags:
        """(looks, bins) where no partial of the first pitch reaches."""
        first_hz = f0_hz[:, None]
        own = OWN_SHARE - 1.0 + np.exp2(moved_semitones[:, None] / np.float32(12.0))
        number = np.maximum(np.rint(self.f_hz / first_hz), np.float32(1.0))
        free: Flags = np.abs(self.f_hz - number * first_hz) > OWN_HZ + own * self.f_hz
        free[:, : int(LOWEST_HZ / self.bin_hz)] = False
        return free

    def _found(self, power: Floats, free: Flags, f0_hz: Floats, moved_semitones: Floats) -> Floats:
        """(2, looks): other_hz, other_power."""
        standing = _standing(power, free)
        rows = np.arange(len(power))
        votes = 2.0 * standing - free  # 1 where a partial stands, -1 where one is missed
        votes[:, NOWHERE] = 0.0
        score = np.take(votes, self.bins[0], axis=1)
        for partial in self.bins[1:]:
            score += np.take(votes, partial, axis=1)
        best = score.argmax(axis=1)
        other_hz, places = self.candidates_hz[best], self.bins[:, best].T
        there = places != NOWHERE
        counted = (standing[rows[:, None], places] * there).sum(axis=1)
        gone = (free[rows[:, None], places] * there).sum(axis=1) - counted
        ratio = np.maximum(other_hz / f0_hz, f0_hz / other_hz)
        apart = np.abs(12.0 * np.log2(ratio / np.rint(ratio))) > SAME_CLASS_SEMITONES + moved_semitones
        known = (counted >= LEAST_PARTIALS) & (gone <= MOST_MISSED * counted) & apart
        peaks = np.maximum.reduce([power[rows[:, None], places + step] for step in (-1, 0, 1)])
        lobes = (peaks * standing[rows[:, None], places] * there).sum(axis=1) * (PEAK_TO_LOBE * self.scale)
        return np.stack((other_hz * known, lobes * known)).astype(np.float32)


def _standing(power: Floats, free: Flags) -> Floats:
    """1 on every narrow peak where the first series is not, and on the bins beside it; 0 elsewhere."""
    inner = power[:, EDGE:-EDGE]

    def beside(bins: int) -> Floats:
        return power[:, EDGE + bins : power.shape[1] - EDGE + bins]

    below, above = (sum(beside(sign * bins) for bins in BESIDE) for sign in (-1, 1))
    peak = inner * len(BESIDE) > STANDS_OUT * np.minimum(below, above)
    for bins in (-2, -1, 1, 2):
        peak &= inner >= beside(bins)
    peaks = np.zeros(power.shape, dtype=bool)
    peaks[:, EDGE:-EDGE] = peak
    peaks &= free
    wide = peaks.copy()
    wide[:, 1:] |= peaks[:, :-1]
    wide[:, :-1] |= peaks[:, 1:]
    return (wide & free).astype(np.float32)


@cache
def _candidates(bins: int, bin_hz: float) -> tuple[Doubles, Places]:
    """Pitches (candidates,), and the bins of their partials (8, candidates; NOWHERE over the band)."""
    candidates_hz = LOWEST_HZ * 2.0 ** (np.arange(int(PER_OCTAVE * np.log2(HIGHEST_HZ / LOWEST_HZ))) / PER_OCTAVE)
    places = np.rint(candidates_hz * np.arange(1, PARTIALS + 1)[:, None] / bin_hz).astype(np.intp)
    places[places >= bins - EDGE] = NOWHERE
    return candidates_hz, places
