"""Colour: centroid, tilt, odd against even partials; and harmonics over noise.

Closed forms (tests' own): sawtooth 1/k of N partials, centroid N / H_N; 1/k^2, centroid H_N / sum 1/k^2; square and
triangle their odd terms; all equal, (N + 1) / 2. Partials follow Pollard and Jansson 1982 and Peeters et al., JASA 130
(2011) 2902 (from memory) in weighting by amplitude. HNR: known ratio of tone to white noise; Praat (Boersma 1993).
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

import librosa
import numpy as np

from analysis.core.records import Tone
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, praat_hnr_db, steady
from tests.reference.signals import Samples, band_power_share, between_silences, edged, harmonic, scaled_to, white
from tests.reference.sweep import MISSED, Sweep

K = np.arange(1, 21.0)
ODD = K % 2 == 1
SPECTRA = {
    "sawtooth": 1 / K,
    "square": np.where(ODD, 1 / K, 0),
    "triangle": np.where(ODD, 1 / K**2, 0),
    "12 dB an octave": 1 / K**2,
    "pulse": np.ones(20),
}
PITCHES = (110.0, 147.0, 196.0, 262.0, 349.0, 392.0)  # 20 partials below 8 kHz
HIGH_PITCHES = (440.0, 587.0, 784.0)  # fewer


@cache
def heard(name: str, f0_hz: float) -> tuple[Samples, Tone | None]:
    tone = edged(scaled_to(harmonic(f0_hz, SPECTRA[name], 1.5, RATE_HZ, 3), -22), RATE_HZ)
    samples = between_silences(tone, RATE_HZ, -95)
    tones = hear(samples, RATE_HZ, instrument="tenor").tones
    return samples, tones[0] if len(tones) == 1 else None


def counted(name: str, f0_hz: float) -> np.ndarray:
    return SPECTRA[name][: int(min(20, 8_000 // f0_hz))]


def over_all(error: Callable[[Tone, np.ndarray, str], float], names: tuple[str, ...] = tuple(SPECTRA)) -> list[float]:
    out = []
    for name in names:
        for f0 in PITCHES + HIGH_PITCHES:
            tone = heard(name, f0)[1]
            out.append(MISSED if tone is None else error(tone, counted(name, f0), name))
    return out


def centroid() -> list[float]:
    def error(tone: Tone, a: np.ndarray, name: str) -> float:
        truth = a @ np.arange(1, len(a) + 1) / a.sum()
        return 100 * (tone.colour.centroid_harmonics / truth - 1) if tone.colour.centroid_harmonics else MISSED

    return over_all(error)


def tilt() -> list[float]:
    truths = {"sawtooth": -6.0206, "12 dB an octave": -12.0412, "pulse": 0.0}

    def error(tone: Tone, a: np.ndarray, name: str) -> float:
        return MISSED if tone.colour.tilt_db_per_octave is None else tone.colour.tilt_db_per_octave - truths[name]

    return over_all(error, tuple(truths))


def odd_even() -> list[float]:
    def error(tone: Tone, a: np.ndarray, name: str) -> float:
        truth = 10 * np.log10(np.sum(a[2::2] ** 2) / np.sum(a[1::2] ** 2))
        return MISSED if tone.colour.odd_even_db is None else tone.colour.odd_even_db - truth

    return over_all(error, ("sawtooth", "12 dB an octave", "pulse"))


def against_librosa() -> list[float]:
    """Of a magnitude spectrum every partial has the same width, so its centroid is the amplitude-weighted one."""
    errors = []
    for name in ("sawtooth", "square", "pulse"):
        for f0 in PITCHES:
            samples, tone = heard(name, f0)
            if tone is None or tone.colour.centroid_hz is None:
                errors.append(MISSED)
                continue
            part = steady(tone, samples, RATE_HZ)
            theirs = librosa.feature.spectral_centroid(y=part, sr=RATE_HZ, n_fft=4096, hop_length=1024, center=False)
            errors.append(100 * (tone.colour.centroid_hz / float(np.median(theirs)) - 1))
    return errors


@cache
def noisy(snr_db: float) -> tuple[tuple[Samples, Tone | None], ...]:
    """Tone over white noise, the ratio counted up to 5 kHz."""
    out = []
    for i, f0 in enumerate((139.0, 185.0, 247.0, 330.0, 440.0, 587.0, 784.0)):
        tone = scaled_to(harmonic(f0, (1 / K)[: int(5_000 // f0)], 2.0, RATE_HZ, i), -22)
        noise = white(2.0, RATE_HZ, i)
        noise *= 10 ** ((-22 - snr_db) / 20) / np.sqrt(np.mean(noise**2) * band_power_share(noise, RATE_HZ, 5_000))
        samples = between_silences(edged(tone + noise, RATE_HZ), RATE_HZ, -90)
        tones = hear(samples, RATE_HZ, instrument="tenor").tones
        out.append((samples, tones[0] if len(tones) == 1 else None))
    return tuple(out)


def hnr(snr_db: float) -> list[float]:
    return [MISSED if tone is None or tone.hnr_db is None else tone.hnr_db - snr_db for _, tone in noisy(snr_db)]


def hnr_against_praat() -> list[float]:
    return [
        MISSED
        if tone is None or tone.hnr_db is None
        else tone.hnr_db - praat_hnr_db(steady(tone, samples, RATE_HZ), RATE_HZ)
        for snr_db in (10.0, 20.0, 30.0)
        for samples, tone in noisy(snr_db)
    ]


SWEEPS = (
    Sweep("centroid", "%", "sawtooth, square, triangle, 1/k², pulse; 110-784 Hz", "closed forms", 0.2, 0.4, centroid),
    Sweep("centroid", "%", "sawtooth, square, pulse; 110-392 Hz", "librosa spectral_centroid", 4, 6, against_librosa),
    Sweep("tilt", "dB/octave", "1/k, 1/k², pulse; 110-784 Hz", "closed forms", 0.02, 0.05, tilt),
    Sweep("odd/even", "dB", "1/k, 1/k², pulse; 110-784 Hz", "closed forms", 0.02, 0.05, odd_even),
    Sweep("harmonics to noise", "dB", "white noise 10 dB under", "the formula", 0.5, 0.7, lambda: hnr(10.0)),
    Sweep("harmonics to noise", "dB", "white noise 20 dB under", "the formula", 0.5, 0.7, lambda: hnr(20.0)),
    Sweep("harmonics to noise", "dB", "white noise 30 dB under", "the formula", 0.5, 0.7, lambda: hnr(30.0)),
    Sweep("harmonics to noise", "dB", "white noise 40 dB under", "the formula", 1.5, 2.0, lambda: hnr(40.0)),
    Sweep(
        "harmonics to noise",
        "dB",
        "white noise 10 to 30 dB under",
        "Praat cross-correlation",
        1.0,
        1.5,
        hnr_against_praat,
    ),
)
