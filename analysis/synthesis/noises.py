"""Every noise there is: air in the tone, breaths, background. Drawn once a rendering, then read from anywhere."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.fft import irfft, rfft, rfftfreq

from analysis.synthesis.specs import SAMPLE_RATE_HZ
from analysis.synthesis.spectra import NOISE_BAND_HZ

if TYPE_CHECKING:
    from analysis.core.records import Floats

POOL_S = 20


@dataclass(frozen=True, slots=True)
class Noises:
    """Endless noise from rings of 20 s. ``air`` has a mean square of 1 up to 5 kHz; the others of 1 altogether."""

    air: Floats
    breath: Floats
    background: Floats

    @classmethod
    def draw(cls, rng: np.random.Generator) -> Noises:
        n = POOL_S * SAMPLE_RATE_HZ
        f_hz = rfftfreq(n, 1 / SAMPLE_RATE_HZ)
        low = f_hz <= NOISE_BAND_HZ
        air = 1 / np.sqrt(1 + (f_hz / 4000) ** 2)  # falls gently above 4 kHz, as breath at a mouthpiece does
        breath = np.exp(-0.5 * (np.log2(np.maximum(f_hz, 1) / 1500) / 0.9) ** 2)  # a hump about 1.5 kHz: the mouth
        background = 1 / np.sqrt(np.maximum(f_hz, 30.0))  # pink down to 30 Hz
        return cls(
            _coloured(rng, n, air, counted=low),
            _coloured(rng, n, breath, counted=np.ones_like(low)),
            _coloured(rng, n, background, counted=np.ones_like(low)),
        )


def stretch(ring: Floats, samples: int, rng: np.random.Generator) -> Floats:
    """``samples`` of the ring from a random place on, round and round."""
    start = int(rng.integers(len(ring)))
    return np.resize(np.roll(ring, -start), samples) if samples > len(ring) - start else ring[start : start + samples]


def _coloured(rng: np.random.Generator, n: int, curve: np.ndarray, counted: np.ndarray) -> Floats:
    spectrum = rfft(rng.standard_normal(n, dtype=np.float32)) * curve.astype(np.float32)
    spectrum[0] = 0
    power = 2 * np.sum(np.abs(spectrum[counted]) ** 2) / n**2
    return np.asarray(irfft(spectrum, n) / np.float32(np.sqrt(power)), dtype=np.float32)
