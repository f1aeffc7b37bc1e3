"""The pitch of each 10 ms frame: a comb finds it, the phases of its partials refine it.

Coarse: root magnitudes times a matrix of prime-numbered combs (after Camacho & Harris 2008, "A sawtooth waveform
inspired pitch estimator for speech and music", JASA 124:1638: kernels of primes with negative valleys).
Fine: the phase advance of each partial from frame to frame (Flanagan & Golden 1966, "Phase vocoder"), twice.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats

    Spectra = NDArray[np.complex64]

COMB_TOP_HZ = 5_000.0
PRIMES = (1, 2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31)
CANDIDATES_PER_OCTAVE = 24
UNDER_LOWEST_SEMITONES, OCTAVES_OVER_LOWEST = 2.5, 4.1
# Two refinements: partials used, up to where. The second can use high partials because the first was already near.
REFINEMENTS = ((4, 2_500.0), (12, 6_000.0))
# Only what stands out of the frame votes: of airy tones (8 dB over their noise) and far ones, frames led astray fell
# from 2 to 22 in a hundred to under 0.2, tried on every size of horn.
NOISE_SHARE = 1.75
FARTHEST_OFF = 0.05  # a partial whose frequency lies 5 % from where it should is not of this tone
OUTLIER_SDS = 2.0


class PitchSearch:
    """Everything about the search that depends only on the instrument and the window."""

    def __init__(self, lowest_hz: float, window_samples: int, hop_samples: int, rate_hz: int) -> None:
        self.hop_s = hop_samples / rate_hz
        self.bin_hz = rate_hz / window_samples
        self.bins = int(COMB_TOP_HZ / self.bin_hz)
        first_hz = lowest_hz * 2.0 ** (-UNDER_LOWEST_SEMITONES / 12.0)
        count = int(CANDIDATES_PER_OCTAVE * (OCTAVES_OVER_LOWEST + UNDER_LOWEST_SEMITONES / 12.0)) + 1
        self.candidates_hz = first_hz * 2.0 ** (np.arange(count) / CANDIDATES_PER_OCTAVE)
        self.combs = self._combs()

    def _combs(self) -> Floats:
        """(bins, candidates): cosine peaks at 1 and the primes, half as deep valleys beside them, f^(-1/2)."""
        f_hz = (np.arange(self.bins) + 1e-9) * self.bin_hz
        combs = np.zeros((self.bins, len(self.candidates_hz)))
        for column, f0_hz in enumerate(self.candidates_hz):
            place = f_hz / f0_hz
            wave = np.cos(2.0 * np.pi * place)
            for prime in PRIMES:
                away = np.abs(place - prime)
                combs[:, column] += np.where(away < 0.25, wave, 0.0)
                combs[:, column] += np.where((away >= 0.25) & (away < 0.75), 0.5 * wave, 0.0)
        combs *= np.sqrt(1.0 / np.maximum(f_hz, self.bin_hz))[:, None]
        combs /= np.sqrt(np.square(np.maximum(combs, 0.0)).sum(axis=0))
        return np.asarray(combs, dtype=np.float32)

    def coarse_hz(self, power: Floats) -> Doubles:
        """(frames,) from (frames, bins) power: the best comb, placed between candidates by a parabola."""
        roots = np.sqrt(np.sqrt(power[:, : self.bins]))
        roots -= NOISE_SHARE * roots.mean(axis=1, keepdims=True)
        scores = np.maximum(roots, 0.0, out=roots) @ self.combs
        best = np.clip(scores.argmax(axis=1), 1, scores.shape[1] - 2)
        rows = np.arange(len(best))
        before, at, after = (scores[rows, best + step].astype(np.float64) for step in (-1, 0, 1))
        bend = before - 2.0 * at + after
        shift = np.where(bend < 0.0, 0.5 * (before - after) / np.where(bend < 0.0, bend, 1.0), 0.0)
        found: Doubles = self.candidates_hz[best] * 2.0 ** (np.clip(shift, -0.5, 0.5) / CANDIDATES_PER_OCTAVE)
        return found

    def refined(self, spectra: Spectra, power: Floats, f0_hz: Doubles) -> tuple[Doubles, Floats]:
        """(f0_hz, spread_cents) of the inner frames of ``spectra`` (frames + 2, bins).

        ``power`` is theirs, ``f0_hz`` a first guess; ``spread_cents`` is how far the partials disagree about f0.
        """
        for partials, top_hz in REFINEMENTS:
            f0_hz, spread = self._refined_once(spectra, power, f0_hz, partials, top_hz)
        return f0_hz, np.float32(1200.0 / np.log(2.0)) * spread

    def _refined_once(
        self, spectra: Spectra, power: Floats, f0_hz: Doubles, partials: int, top_hz: float
    ) -> tuple[Doubles, Floats]:
        number = np.arange(1, partials + 1, dtype=np.float32)
        f_hz = f0_hz[:, None] * number
        bins = np.rint(np.minimum(f_hz, top_hz) / self.bin_hz).astype(np.intp)
        width, rows = spectra.shape[1], np.arange(len(f0_hz))[:, None]
        here = bins + (rows + 1) * width
        flat = spectra.reshape(-1)
        at = flat.take(here)
        before = flat.take(here - width)
        advance = flat.take(here + width)
        advance *= at.conj()
        advance += at * before.conj()
        turns = np.arctan2(advance.imag, advance.real)
        turns *= np.float32(0.5 / np.pi)
        off = turns - f_hz * self.hop_s
        off -= np.rint(off)
        off /= f_hz * self.hop_s  # as a share of the partial's frequency
        weight = power.reshape(-1).take(bins + rows * power.shape[1]) * (number**2 / (1.0 + (number / 8.0) ** 2))
        weight *= (f_hz <= top_hz) & (np.abs(off) < FARTHEST_OFF)
        mean, spread = _mean_and_spread(off, weight)
        weight *= np.abs(off - mean[:, None]) <= OUTLIER_SDS * spread[:, None]
        mean, spread = _mean_and_spread(off, weight)
        return f0_hz * (1.0 + mean), spread.astype(np.float32)


def _mean_and_spread(off: Doubles, weight: Floats) -> tuple[Doubles, Doubles]:
    """Weighted mean and standard deviation of each row; a row without weight: 0 and the widest there is."""
    total = weight.sum(axis=1, dtype=np.float64)
    safe = np.maximum(total, 1e-300)
    weighted = off * weight
    mean = weighted.sum(axis=1) / safe
    square = np.einsum("ij,ij->i", weighted, off) / safe - np.square(mean)
    spread = np.sqrt(np.maximum(square, 0.0))
    spread[total == 0.0] = FARTHEST_OFF
    return mean, spread
