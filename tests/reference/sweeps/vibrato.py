"""Vibrato: rate, extent, regularity.

Truth: the sine that bent the pitch. The whole chain is asked, from samples to the report.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.core.records import Tone
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, praat_pitch_hz
from tests.reference.signals import between_silences, edged, harmonic, reedy, scaled_to
from tests.reference.sweep import MISSED, Sweep

FREE = [(rate, extent, f0) for rate in (3.5, 4.5, 5.5, 6.5, 8.0) for extent in (6, 12, 25, 50) for f0 in (156, 415)]
SET_PULSE = [
    (rate, extent, f0) for rate in (0.8, 1.0, 1.5, 2.0, 2.67) for extent in (8, 20, 40, 60) for f0 in (233, 622)
]


def waving(rate_hz: float, extent_cents: float, f0_hz: float, seconds: float, seed: int = 0) -> np.ndarray:
    t_s = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    bent = f0_hz * 2 ** (extent_cents * np.sin(2 * np.pi * rate_hz * t_s + seed) / 1200)
    return edged(scaled_to(harmonic(bent, reedy(), seconds, RATE_HZ, seed), -22), RATE_HZ)


@cache
def heard(cases: str) -> tuple[tuple[float, float, np.ndarray, Tone | None], ...]:
    out = []
    for seed, (rate, extent, f0) in enumerate(FREE if cases == "free" else SET_PULSE):
        seconds = 3.0 if cases == "free" else max(4.0, 5 / rate)
        samples = between_silences(waving(rate, extent, f0, seconds, seed), RATE_HZ, -66)
        tones = hear(samples, RATE_HZ, pulses_per_second=0.0 if cases == "free" else rate).tones
        tone = tones[0] if len(tones) == 1 and tones[0].vibrato.present else None
        out.append((rate, extent, samples, tone))
    return tuple(out)


def rate(cases: str) -> list[float]:
    return [tone.vibrato.rate_hz - rate if tone else MISSED for rate, _, _, tone in heard(cases)]


def extent_pct(cases: str) -> list[float]:
    return [100 * (tone.vibrato.extent_cents / extent - 1) if tone else MISSED for _, extent, _, tone in heard(cases)]


def mean_pitch(cases: str) -> list[float]:
    """The middle of the wave is the pitch: no part of the wave may leak into it."""
    truths = (f0 for _, _, f0 in (FREE if cases == "free" else SET_PULSE))
    return [
        1200 * np.log2(tone.f0_hz / f0) if tone else MISSED
        for f0, (_, _, _, tone) in zip(truths, heard(cases), strict=True)
    ]


def extent_against_praat_pct() -> list[float]:
    """Half the spread between Praat's highest and lowest pitch of each cycle, the product's own rate."""
    errors = []
    for rate_hz, _, samples, tone in heard("free")[::2]:
        if tone is None:
            errors.append(MISSED)
            continue
        part = samples[round(tone.steady_start_s * RATE_HZ) : round(tone.steady_end_s * RATE_HZ)]
        cents = 1200 * np.log2(praat_pitch_hz(part, RATE_HZ, tone.f0_hz / 1.3, tone.f0_hz * 1.6) / tone.f0_hz)
        cycle = round(100 / rate_hz)
        halves = [np.ptp(cents[i : i + cycle]) / 2 for i in range(0, len(cents) - cycle, cycle)]
        errors.append(100 * (tone.vibrato.extent_cents / float(np.median(halves)) - 1))
    return errors


def irregular() -> list[float]:
    """Cycle lengths and sizes drawn with a known CV; truth is the CV of the cycles inside the part read."""
    errors = []
    for seed in range(12):
        rng = np.random.default_rng([seed, 77])
        cv = 0.02 + 0.013 * seed
        lengths = np.maximum(0.6, 1 + cv * rng.standard_normal(40)) / 5.0
        starts = np.concatenate(([0.0], np.cumsum(lengths)))
        t_s = np.arange(4 * RATE_HZ) / RATE_HZ
        bent = 330 * 2 ** (25 * np.sin(2 * np.pi * np.interp(t_s, starts, np.arange(41))) / 1200)
        tone = edged(scaled_to(harmonic(bent, reedy(), 4, RATE_HZ, seed), -22), RATE_HZ)
        tones = hear(between_silences(tone, RATE_HZ, -66), RATE_HZ).tones
        if len(tones) != 1 or not tones[0].vibrato.present:
            errors.append(MISSED)
            continue
        lo, hi = tones[0].steady_start_s - 0.6, tones[0].steady_end_s - 0.6
        inside = lengths[(starts[:-1] >= lo) & (starts[1:] <= hi)]
        errors.append(100 * (tones[0].vibrato.rate_cv - np.std(inside) / np.mean(inside)))
    return errors


def false_alarms() -> list[float]:
    """Steady tones in noise and slow wavers without a pulse set: 1 where vibrato is reported."""
    errors = []
    for seed, f0 in enumerate(np.geomspace(140, 880, 24)):
        extent, rate_hz = ((0.0, 1.0), (12.0, 1.2), (8.0, 0.7))[seed % 3]
        samples = between_silences(waving(rate_hz, extent, f0, 3.0, seed), RATE_HZ, -50)
        errors.append(float(any(tone.vibrato.present for tone in hear(samples, RATE_HZ).tones)))
    return errors


SWEEPS = (
    Sweep("vibrato rate", "Hz", "3.5-8 Hz, 6-50 cents", "the formula", 0.005, 0.01, lambda: rate("free")),
    Sweep("vibrato rate", "Hz", "0.8-2.7 Hz with a pulse set", "the formula", 0.005, 0.01, lambda: rate("set")),
    Sweep("vibrato extent", "%", "3.5-8 Hz, 6-50 cents", "the formula", 3, 4, lambda: extent_pct("free")),
    Sweep("vibrato extent", "%", "0.8-2.7 Hz with a pulse set", "the formula", 2, 3, lambda: extent_pct("set")),
    Sweep("vibrato extent", "%", "3.5-8 Hz, 6-50 cents", "Praat pitch", 5, 8, extent_against_praat_pct),
    Sweep("vibrato rate CV", "%", "cycles drawn with a CV of 2 to 16 %", "the formula", 2, 3, irregular),
    Sweep("pitch under vibrato", "cents", "3.5-8 Hz, 6-50 cents", "the formula", 0.5, 0.8, lambda: mean_pitch("free")),
    Sweep("vibrato where none is", "false alarms", "steady tones and slow wavers", "the formula", 0, 0, false_alarms),
)
