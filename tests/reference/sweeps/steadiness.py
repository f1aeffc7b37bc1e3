"""Steadiness of pitch: drift along a line, spread about it.

Truth: the curve that bent the pitch, over the part that the product read.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, matched
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to
from tests.reference.sweep import MISSED, Sweep
from tests.reference.sweeps.pitch import Row


@cache
def gliding() -> Row:
    """Alto tones whose pitch slides evenly. Truth: cents a second."""
    slopes = tuple(np.linspace(-15, 15, 16))
    t_s = np.arange(round(3 * RATE_HZ)) / RATE_HZ
    tones = [
        edged(scaled_to(harmonic(f0 * 2 ** (slope * (t_s - 1.5) / 1200), reedy(), 3, RATE_HZ, i), -22), RATE_HZ)
        for i, (slope, f0) in enumerate(zip(slopes, np.geomspace(140, 850, 16), strict=True))
    ]
    samples, starts = row_of_tones(tones, RATE_HZ, -62)
    return Row(samples, slopes, tuple(matched(hear(samples, RATE_HZ).tones, starts)))


def drift() -> list[float]:
    row = gliding()
    return [
        tone.pitch_drift_cents - slope * (tone.steady_end_s - tone.steady_start_s) if tone else MISSED
        for slope, tone in zip(row.truth, row.heard, strict=True)
    ]


def wandering_cents(seed: int, sd_cents: float, seconds: float) -> Samples:
    rng = np.random.default_rng([seed, 21])
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    waves = sum(
        np.sin(2 * np.pi * f * t_s + p) for f, p in zip(rng.uniform(0.4, 2.6, 6), rng.uniform(0, 7, 6), strict=True)
    )
    return np.asarray(sd_cents * (waves - waves.mean()) / waves.std())


def steadiness(noise_dbfs: float = -62.0) -> list[float]:
    """Slow random wander of 1 to 12 cents; truth is its SD about a line over the part the product read."""
    sds = np.geomspace(1, 12, 12)
    curves = [wandering_cents(i, sd, 4) for i, sd in enumerate(sds)]
    tones = [
        edged(scaled_to(harmonic(f0 * 2 ** (curve / 1200), reedy(), 4, RATE_HZ, i), -22), RATE_HZ)
        for i, (curve, f0) in enumerate(zip(curves, np.geomspace(140, 850, 12), strict=True))
    ]
    samples, starts = row_of_tones(tones, RATE_HZ, noise_dbfs)
    errors = []
    for curve, start, tone in zip(curves, starts, matched(hear(samples, RATE_HZ).tones, starts), strict=True):
        if tone is None or tone.pitch_spread_cents is None:
            errors.append(MISSED)
            continue
        part = curve[round((tone.steady_start_s - start) * RATE_HZ) : round((tone.steady_end_s - start) * RATE_HZ) : 24]
        x = np.arange(len(part))
        truth = np.std(part - np.polyval(np.polyfit(x, part, 1), x))
        errors.append(tone.pitch_spread_cents - truth)
    return errors


SWEEPS = (
    Sweep("pitch drift", "cents", "slides of -15 to 15 cents a second", "the formula", 0.02, 0.05, drift),
    Sweep("pitch spread", "cents", "random wander of 1 to 12 cents SD", "the formula", 0.25, 0.4, steadiness),
)
