"""Shapes: ramps, swells, terraces with known lines.

Closed forms: a straight ramp from -40 to -10 dB in 6 s has a slope of 5.0 dB/s and R² = 1; a symmetrical swell peaks at
0.5; eight terraces of 3 dB have seven steps of 3.00 dB. Second opinion: Praat's intensity, its line by scipy.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import parselmouth
from scipy.stats import linregress

from analysis.core.records import ShapeReading
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, praat_intensity_dbfs
from tests.reference.signals import Samples, between_silences, edged, harmonic, reedy, scaled_to
from tests.reference.sweep import MISSED, Sweep

PITCHES = np.geomspace(147, 784, 6)


def sounded(line_db: np.ndarray, f0_hz: float, seed: int = 0) -> Samples:
    """``line_db``: a value a sample, against -12 dBFS RMS."""
    return scaled_to(harmonic(f0_hz, reedy(), len(line_db) / RATE_HZ, RATE_HZ, seed), -12) * 10 ** (line_db / 20)


def heard(line_db: np.ndarray, f0_hz: float, shape: str, seed: int = 0) -> ShapeReading | None:
    tone = edged(sounded(line_db, f0_hz, seed), RATE_HZ)
    tones = hear(between_silences(tone, RATE_HZ, -78), RATE_HZ, shape=shape).tones
    return tones[0].shape if len(tones) == 1 else None


def place(seconds: float) -> np.ndarray:
    n = round(seconds * RATE_HZ)
    return np.arange(n) / n


@cache
def swells() -> tuple[tuple[float, float, ShapeReading | None], ...]:
    out = []
    for i, f0 in enumerate(PITCHES):
        for peak_at, range_db in ((0.5, 18.0), (0.4, 24.0), (0.6, 15.0), (0.3, 20.0)):
            line = range_db * (np.interp(place(6), [0, peak_at, 1], [0, 1, 0]) - 1)
            out.append((peak_at, range_db, heard(line, f0, "swell", i)))
    return tuple(out)


@cache
def reverse_swells() -> tuple[tuple[float, float, ShapeReading | None], ...]:
    return tuple(
        (waist, 18.0, heard(-18 * np.interp(place(6), [0, waist, 1], [0, 1, 0]), f0, "reverse_swell", i))
        for i, f0 in enumerate(PITCHES)
        for waist in (0.5, 0.4, 0.6)
    )


@cache
def ramps() -> tuple[tuple[float, ShapeReading | None], ...]:
    """Slope in dB/s, 30 dB in 6 s and gentler, up and down."""
    out = []
    for i, f0 in enumerate(PITCHES):
        for slope in (5.0, 3.0, -5.0, -3.0):
            line = slope * 6 * (place(6) - (slope > 0))
            out.append((slope, heard(line, f0, "crescendo" if slope > 0 else "decrescendo", i)))
    return tuple(out)


@cache
def terraces() -> tuple[tuple[tuple[float, ...], ShapeReading | None], ...]:
    out = []
    for i, f0 in enumerate(PITCHES):
        for steps in ((3.0,) * 7, (-3.0,) * 7, (2.0, 3.0, 4.0, 3.0, 2.0, 3.0, 4.0), (3.0,) * 3):
            heights = np.concatenate(([0.0], np.cumsum(steps)))
            heights -= heights.max()
            line = heights[np.minimum((place(1.2 * len(heights)) * len(heights)).astype(int), len(heights) - 1)]
            out.append((steps, heard(line, f0, "stepped", i)))
    return tuple(out)


def peak(material: tuple[tuple[float, float, ShapeReading | None], ...]) -> list[float]:
    return [MISSED if s is None or s.peak_at is None else s.peak_at - peak_at for peak_at, _, s in material]


def span(material: tuple[tuple[float, float, ShapeReading | None], ...]) -> list[float]:
    return [MISSED if s is None or s.range_db is None else s.range_db - range_db for _, range_db, s in material]


def slope() -> list[float]:
    return [
        MISSED if s is None or (s.rise_db_per_s if slope > 0 else s.fall_db_per_s) is None
        else abs(s.rise_db_per_s if slope > 0 else s.fall_db_per_s) - abs(slope)
        for slope, s in ramps()
    ]  # fmt: skip


def straightness() -> list[float]:
    return [MISSED if s is None or s.straightness is None else 1 - s.straightness for _, s in ramps()]


def steps() -> list[float]:
    errors = []
    for truth, s in terraces():
        if s is None or len(s.steps_db) != len(truth):
            errors += [MISSED] * len(truth)
        else:
            errors += [found - true for found, true in zip(s.steps_db, truth, strict=True)]
    return errors


def slope_against_praat() -> list[float]:
    """A straight line through Praat's intensity of the same tone."""
    errors = []
    for i, f0 in enumerate(PITCHES):
        line = 4.0 * 6 * (place(6) - 1)
        found = heard(line, f0, "crescendo", i)
        intensity = parselmouth.Sound(sounded(line, f0, i), RATE_HZ).to_intensity(minimum_pitch=60)
        theirs = linregress(intensity.xs(), intensity.values.ravel()).slope
        errors.append(MISSED if found is None or found.rise_db_per_s is None else found.rise_db_per_s - theirs)
    return errors


def steps_against_praat() -> list[float]:
    """The middle half of each plateau by Praat's intensity."""
    errors = []
    for i, f0 in enumerate(PITCHES):
        heights = np.array([-12.0, -10.0, -7.0, -3.0, 0.0])
        line = heights[(place(1.2 * len(heights)) * len(heights)).astype(int)]
        found, parts = heard(line, f0, "stepped", i), np.split(sounded(line, f0, i), len(heights))
        theirs = np.diff([praat_intensity_dbfs(part[len(part) // 4 : -len(part) // 4], RATE_HZ) for part in parts])
        if found is None or len(found.steps_db) != len(theirs):
            errors += [MISSED] * len(theirs)
        else:
            errors += (np.array(found.steps_db) - theirs).tolist()
    return errors


def verdicts() -> list[float]:
    """1 where a shape that is right by its own definition is refused, or one that is wrong is passed."""
    half = np.interp(place(6), [0, 0.5, 1], [0, 1, 0])
    dip = 6 * np.clip(1 - np.abs(place(6) - 0.25) / 0.06, 0, 1)
    late = np.interp(place(6), [0, 0.8, 1], [0, 1, 0])
    sudden = np.clip((place(6) - 0.42) / 0.05, 0, 1) * np.clip((0.58 - place(6)) / 0.05, 0, 1)
    cases = [(18 * (half - 1), True), (24 * (half - 1), True), (18 * (half - 1) - dip, False)]
    cases += [(18 * (late - 1), False), (5 * (half - 1), False), (18 * (sudden - 1), False)]
    errors = []
    for i, f0 in enumerate(PITCHES[::2]):
        for line, right in cases:
            found = heard(line, f0, "swell", i)
            errors.append(MISSED if found is None else float(found.met is not right))
    return errors


SWEEPS = (
    Sweep(
        "swell peak",
        "of its length",
        "swells of 15-24 dB, peak at .3-.6",
        "the formula",
        0.015,
        0.02,
        lambda: peak(swells()),
    ),
    Sweep("swell range", "dB", "swells of 15-24 dB, peak at .3-.6", "the formula", 0.6, 0.8, lambda: span(swells())),
    Sweep(
        "waist",
        "of its length",
        "reverse swells, waist at .4-.6",
        "the formula",
        0.015,
        0.02,
        lambda: peak(reverse_swells()),
    ),
    Sweep("swell verdict", "wrong", "straight, dented, late, shallow, sudden", "the formula", 0, 0, verdicts),
    Sweep("slope", "dB/s", "ramps of 3 and 5 dB/s in 6 s", "the formula", 0.02, 0.05, slope),
    Sweep(
        "slope", "dB/s", "ramps of 4 dB/s in 6 s", "Praat intensity, scipy linregress", 0.02, 0.05, slope_against_praat
    ),
    Sweep("straightness", "1 - R²", "ramps of 3 and 5 dB/s in 6 s", "closed form 1", 0.002, 0.005, straightness),
    Sweep("steps", "dB", "terraces of 2 to 4 dB, up and down", "the formula", 0.05, 0.1, steps),
    Sweep("steps", "dB", "terraces of 2 to 4 dB", "Praat intensity", 0.05, 0.1, steps_against_praat),
)
