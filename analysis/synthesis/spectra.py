"""What a saxophone-like tone is made of: partials that grow faster than the fundamental as it gets louder.

The envelope is two straight lines that bend downward at the instrument's cutoff (the model of Benade and Lutgen,
J. Acoust. Soc. Am. 83 (1988) 1900, from memory); near-sinusoidal when soft (J. Wolfe's pages on saxophone acoustics,
UNSW). Slopes and the unevenness of the "horn" are house figures: they only have to be plausible and exactly known.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import freqz_sos

from analysis.synthesis.specs import DYNAMIC_DB, SAMPLE_RATE_HZ

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Floats

TABLE_SAMPLES = 4096  # straight lines between them lie 100 dB under the tone
ROW_DB = 2.0
MOST_PARTIALS = 48
COLOUR_PARTIALS, COLOUR_BAND_HZ = 20, 8_000.0
NOISE_BAND_HZ = 5_000.0

CUTOFF_HZ = {"sopranino": 1750.0, "soprano": 1300.0, "alto": 1000.0, "tenor": 760.0, "baritone": 520.0, "bass": 400.0}

# ITU-R BS.1770-4, tables 1 and 2 (48 kHz). Kept apart from the measuring code, so that the truth does not lean on it.
K_WEIGHTING_SOS = np.array(
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)


@dataclass(frozen=True, slots=True)
class Voice:
    """One note of one instrument at every brightness: row r sounds as at ``softest_db + r * ROW_DB``.

    ``amplitudes`` (rows, partials): peak amplitudes, scaled so that each row has a K-weighted level of 0 dB.
    ``tables`` (rows, TABLE_SAMPLES + 1): one period of each row, its first sample again at the end.
    """

    f0_hz: float
    softest_db: float
    amplitudes: Doubles
    tables: Floats

    def amplitudes_at(self, colour_db: float) -> Doubles:
        """Between two rows as they are sounded: each partial on a straight line."""
        row = float(np.clip((colour_db - self.softest_db) / ROW_DB, 0, len(self.amplitudes) - 1.001))
        share = row - int(row)
        return (1 - share) * self.amplitudes[int(row)] + share * self.amplitudes[int(row) + 1]

    def centroid_harmonics(self, colour_db: float) -> float:
        counted = self._counted(colour_db)
        return float(counted @ np.arange(1, len(counted) + 1) / counted.sum())

    def odd_even_db(self, colour_db: float) -> float:
        """Odd over even partials in power, from the second partial on."""
        power = self._counted(colour_db) ** 2
        return float(10 * np.log10(power[2::2].sum() / power[1::2].sum()))

    def tonal_power(self, colour_db: float) -> float:
        """Mean square of the partials up to 5 kHz, at a K-weighted level of 0 dB."""
        amplitudes = self.amplitudes_at(colour_db)
        within = self.f0_hz * np.arange(1, len(amplitudes) + 1) <= NOISE_BAND_HZ
        return float(np.sum(amplitudes[within] ** 2) / 2)

    def _counted(self, colour_db: float) -> Doubles:
        return self.amplitudes_at(colour_db)[: int(min(COLOUR_PARTIALS, COLOUR_BAND_HZ // self.f0_hz))]


def k_weighting_power(f_hz: Doubles) -> Doubles:
    """Power gain of the K curve at 48 kHz."""
    _, response = freqz_sos(K_WEIGHTING_SOS, worN=f_hz, fs=SAMPLE_RATE_HZ)
    return np.asarray(np.abs(response) ** 2)


@lru_cache(maxsize=256)
def voice(instrument: str, f0_hz: float) -> Voice:
    """The voice of one pitch; built once, as a run comes back to its notes."""
    partials = np.arange(1, int(min(MOST_PARTIALS, 16_000 // f0_hz)) + 1)
    softest_db, loudest_db = DYNAMIC_DB["ppp"] - 12, DYNAMIC_DB["fff"] + 12
    levels: Doubles = np.arange(softest_db, loudest_db + ROW_DB, ROW_DB, dtype=np.float64)
    envelope_db = _envelope_db(CUTOFF_HZ[instrument], f0_hz, partials, levels)
    amplitudes = 10 ** (envelope_db / 20)
    weighted = (amplitudes**2 / 2) @ k_weighting_power(np.asarray(partials * f0_hz, dtype=np.float64))
    amplitudes *= np.sqrt(10 ** (0.691 / 10) / weighted)[:, None]
    phase = 2 * np.pi * np.arange(TABLE_SAMPLES + 1) / TABLE_SAMPLES
    # Phases after Schroeder (1970): partials that do not pile up into one peak, as they do not in a room either.
    waves = np.sin(partials[:, None] * phase - np.pi * partials[:, None] ** 2 / len(partials))
    return Voice(f0_hz, softest_db, amplitudes, np.asarray(amplitudes @ waves, dtype=np.float32))


def _envelope_db(cutoff_hz: float, f0_hz: float, partials: np.ndarray, levels_db: Doubles) -> Doubles:
    span_db = DYNAMIC_DB["fff"] - DYNAMIC_DB["ppp"]
    bright = np.clip((levels_db - DYNAMIC_DB["ppp"]) / span_db, -0.4, 1.4)[:, None]
    octaves_above_cutoff = np.maximum(0.0, np.log2(partials * f0_hz / max(cutoff_hz, 1.3 * f0_hz)))
    below = (10.0 - 7.0 * bright) * np.log2(partials)
    above = (20.0 - 11.0 * bright) * octaves_above_cutoff
    weak_fundamental = np.where(partials == 1, 4.0 * max(0.0, np.log2(cutoff_hz / (4 * f0_hz))), 0.0)
    horn = np.random.default_rng([1846, round(f0_hz * 10)])  # this note's own unevenness, the same every day
    return -below - above - weak_fundamental + horn.uniform(-1.5, 1.5, len(partials))
