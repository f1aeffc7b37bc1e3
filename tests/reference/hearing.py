"""Lets the product hear a test signal, and lets Praat and librosa hear the same: second opinions for every check.

Praat is reached through praat-parselmouth 0.4 (GPL, tests only); librosa is 0.11.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
import parselmouth
from numpy.typing import NDArray
from scipy.signal import resample_poly

from analysis import audio
from analysis.core.measure import measure
from analysis.core.records import AudioInfo, Measurement, Request, Tone
from tests.reference.signals import Samples

PRODUCT_RATE_HZ = 24_000


def hear(
    samples: Samples, rate_hz: int = PRODUCT_RATE_HZ, *, clipped_at_s: tuple[float, ...] = (), **request: Any
) -> Measurement:
    """The whole chain after the decoder, which alone sees clipping. Other rates are brought to 24 kHz by scipy."""
    if rate_hz != PRODUCT_RATE_HZ:
        common = int(np.gcd(rate_hz, PRODUCT_RATE_HZ))
        samples = resample_poly(samples, PRODUCT_RATE_HZ // common, rate_hz // common)
    info = AudioInfo(
        len(samples) / PRODUCT_RATE_HZ, PRODUCT_RATE_HZ, 1, "pcm_s16le", "0" * 64, clipped_at_s=clipped_at_s
    )
    blocks = [part.astype(np.float32) for part in np.array_split(samples, max(1, len(samples) // 96_000))]
    return measure(blocks, lambda: info, Request(**request))


def hear_file(path: Path, **request: Any) -> Measurement:
    """The whole chain, decoder and all."""
    return audio.hear(path, Request(**request))


def hear_one(samples: Samples, rate_hz: int = PRODUCT_RATE_HZ, **request: Any) -> Tone:
    measurement = hear(samples, rate_hz, **request)
    assert len(measurement.tones) == 1, f"one tone was sounded, {len(measurement.tones)} were heard"
    return measurement.tones[0]


def steady(tone: Tone, samples: Samples, rate_hz: int) -> Samples:
    return samples[round(tone.steady_start_s * rate_hz) : round(tone.steady_end_s * rate_hz)]


def matched(tones: Sequence[Tone], starts_s: Sequence[float]) -> list[Tone | None]:
    """For each place where a tone was sounded, the tone heard within 0.25 s of it (each at most once)."""
    free, found = list(tones), []
    for start_s in starts_s:
        near = min(free, key=lambda tone: abs(tone.start_s - start_s), default=None)
        if near is None or abs(near.start_s - start_s) > 0.25:
            found.append(None)
        else:
            found.append(near)
            free.remove(near)
    return found


def praat_pitch_hz(samples: Samples, rate_hz: int, floor_hz: float = 60, ceiling_hz: float = 1_500) -> NDArray[Any]:
    """Boersma (1993), autocorrelation, every 10 ms; only voiced frames."""
    sound = parselmouth.Sound(samples.astype(np.float64), rate_hz)
    pitch = sound.to_pitch_ac(time_step=0.01, pitch_floor=floor_hz, pitch_ceiling=ceiling_hz, very_accurate=True)
    f0 = pitch.selected_array["frequency"]
    return f0[f0 > 0]


def praat_hnr_db(samples: Samples, rate_hz: int, floor_hz: float = 75) -> float:
    """Median of Praat's cross-correlation harmonicity, of the sound to 5 kHz as the product counts it.

    Brought to 10 kHz and up to 40 again: between too few samples Praat's correlation peaks come out low on high notes.
    """
    sound = parselmouth.Sound(resample_poly(resample_poly(samples, 10_000, rate_hz), 4, 1), 40_000)
    values = sound.to_harmonicity_cc(time_step=0.01, minimum_pitch=floor_hz).values.ravel()
    return float(np.median(values[values > -100]))


def praat_intensity_dbfs(samples: Samples, rate_hz: int) -> float:
    """Praat's intensity is re 2e-5: a full-scale RMS of 1 reads 93.98 dB."""
    sound = parselmouth.Sound(samples.astype(np.float64), rate_hz)
    values = sound.to_intensity(minimum_pitch=60, subtract_mean=False).values.ravel()
    return float(10 * np.log10(np.mean(10 ** (values / 10)))) - 93.9794
