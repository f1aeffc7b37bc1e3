"""Level: K-weighted level of the steady part, its steadiness and drift, plain level, noise floor.

Truth: closed form (partials' mean squares times the K curve of the 48 kHz table, ITU-R BS.1770-5), Praat's intensity.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import freqz_sos

from analysis.core.spectrum import frames_of
from analysis.core.tables import instruments
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, matched, praat_intensity_dbfs
from tests.reference.signals import edged, harmonic, reedy, row_of_tones, scaled_to, white
from tests.reference.sweep import MISSED, Sweep
from tests.reference.sweeps.pitch import WRITTEN
from tests.reference.sweeps.steadiness import wandering_cents
from tests.reference.test_loudness import TABLE_48K


def k_level_db(f0_hz: float, amplitudes: np.ndarray) -> float:
    f_hz = f0_hz * np.arange(1, len(amplitudes) + 1)
    kept = f_hz < 0.45 * RATE_HZ
    _, response = freqz_sos(TABLE_48K, worN=2 * np.pi * f_hz[kept] / 48_000)
    return float(-0.691 + 10 * np.log10(np.sum(amplitudes[kept] ** 2 / 2 * np.abs(response) ** 2)))


def steady_level() -> list[float]:
    errors = []
    for seed, horn in enumerate(instruments().values()):
        rng = np.random.default_rng([seed, 31])
        pitches = [440 * 2 ** ((w + horn.sounds_semitones - 69) / 12) for w in WRITTEN]
        spectra = [10 ** (rng.uniform(-45, -12) / 20) * reedy(20, rng.uniform(4, 14)) for _ in pitches]
        tones = [edged(harmonic(f0, a, 1.6, RATE_HZ, seed), RATE_HZ) for f0, a in zip(pitches, spectra, strict=True)]
        samples, starts = row_of_tones(tones, RATE_HZ, -95)
        heard = matched(hear(samples, RATE_HZ, instrument=horn.name).tones, starts)
        errors += [
            tone.level_db - k_level_db(f0, a) if tone else MISSED
            for f0, a, tone in zip(pitches, spectra, heard, strict=True)
        ]
    return errors


def plain_level() -> list[float]:
    """The plain 5 ms envelope of a bright tone in a little noise against Praat's intensity."""
    errors = []
    for i, f0 in enumerate(np.geomspace(100, 900, 12)):
        samples = scaled_to(harmonic(f0, reedy(), 1.5, RATE_HZ, i) + 0.02 * white(1.5, RATE_HZ, i), -50 + 3 * i)
        frames = frames_of([samples.astype(np.float32)], "alto")
        theirs = praat_intensity_dbfs(samples, RATE_HZ)
        errors.append(10 * np.log10(frames.plain_power[40:-40].mean()) - theirs)
    return errors


def moving(kind: str) -> list[float]:
    """Level drift (dB/s) or spread (dB) of tones whose level slides and wanders by a known curve."""
    slopes = np.linspace(-1.5, 1.5, 12)
    sds = np.geomspace(0.2, 2, 12)
    t_s = np.arange(4 * RATE_HZ) / RATE_HZ
    curves = [
        slope * t_s + wandering_cents(50 + i, sd, 4) for i, (slope, sd) in enumerate(zip(slopes, sds, strict=True))
    ]
    tones = [
        edged(scaled_to(harmonic(f0, reedy(), 4, RATE_HZ, i), -24) * 10 ** (curve / 20), RATE_HZ)
        for i, (curve, f0) in enumerate(zip(curves, np.geomspace(140, 850, 12), strict=True))
    ]
    samples, starts = row_of_tones(tones, RATE_HZ, -80)
    errors = []
    for curve, start, tone in zip(curves, starts, matched(hear(samples, RATE_HZ).tones, starts), strict=True):
        if tone is None or tone.level_drift_db_per_s is None or tone.level_spread_db is None:
            errors.append(MISSED)
            continue
        part = curve[round((tone.steady_start_s - start) * RATE_HZ) : round((tone.steady_end_s - start) * RATE_HZ)]
        x = np.arange(len(part)) / RATE_HZ
        slope, offset = np.polyfit(x, part, 1)
        truth = {"drift": slope, "spread": np.std(part - slope * x - offset)}[kind]
        errors.append({"drift": tone.level_drift_db_per_s, "spread": tone.level_spread_db}[kind] - truth)
    return errors


def floor() -> list[float]:
    """White noise of known RMS between tones."""
    errors = []
    for i, noise_dbfs in enumerate(np.linspace(-80, -50, 7)):
        tones = [edged(scaled_to(harmonic(f0, reedy(), 1.5, RATE_HZ, i), -20), RATE_HZ) for f0 in (200, 260, 330)]
        samples, _ = row_of_tones(tones, RATE_HZ, noise_dbfs, gap_s=1.2)
        found = hear(samples, RATE_HZ).capture.noise_floor_dbfs
        errors.append(MISSED if found is None else found - noise_dbfs)
    return errors


SWEEPS = (
    Sweep("level", "dB", "20 partials, 6 horns x 9 notes", "closed form, BS.1770 table", 0.02, 0.04, steady_level),
    Sweep("plain level", "dB", "20 partials and noise, 100-900 Hz", "Praat intensity", 0.02, 0.05, plain_level),
    Sweep(
        "level drift",
        "dB/s",
        "slides of -1.5 to 1.5 dB/s with wander",
        "the formula",
        0.1,
        0.15,
        lambda: moving("drift"),
    ),
    Sweep("level spread", "dB", "random wander of 0.2 to 2 dB SD", "the formula", 0.12, 0.2, lambda: moving("spread")),
    Sweep("noise floor", "dB", "white noise of -80 to -50 dBFS between tones", "the formula", 0.1, 0.2, floor),
)
