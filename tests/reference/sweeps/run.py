"""Over several tones: holes in a run, overtones, level control.

Truth: the levels, tunings and spectra that the formula was given; second opinion on a hole: least squares through all
the other notes (numpy).
"""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.core.records import Asked, Measurement
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, matched
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to
from tests.reference.sweep import MISSED, Sweep
from tests.reference.sweeps.level import k_level_db

NOTES = np.arange(58, 91)
RUNS = 5


def alto_hz(written: float, cents: float = 0.0) -> float:
    return float(440 * 2 ** ((written - 9 - 69) / 12 + cents / 1200))


def tone(written: int, k_db: float, cents: float, tilt: float, seed: int) -> Samples:
    f0, amplitudes = alto_hz(written, cents), reedy(20, tilt)
    amplitudes = amplitudes * 10 ** ((k_db - k_level_db(f0, amplitudes)) / 20)
    return edged(harmonic(f0, amplitudes, 0.9, RATE_HZ, seed), RATE_HZ)


@cache
def run_with(kind: str, number: int) -> tuple[int, float, Measurement]:
    """33 notes about a bent trend, a little uneven, with one hole of level or pitch, or none. (note, size, heard)."""
    rng = np.random.default_rng([number, 5])
    odd, size = int(rng.integers(3, 30)), float(rng.choice([-1, 1]) * rng.uniform(5, 10))
    x = (NOTES - 74) / 16
    levels = -24 + 2 * x - 3 * x**2 + rng.normal(0, 0.3, len(NOTES))
    tuning = rng.normal(0, 1.5, len(NOTES))
    if kind == "level":
        levels[odd] += size
    if kind == "pitch":
        size *= 4
        tuning[odd] += size
    tones = [tone(w, k, c, 7.0, i) for i, (w, k, c) in enumerate(zip(NOTES.tolist(), levels, tuning, strict=True))]
    samples, _ = row_of_tones(tones, RATE_HZ, -78, gap_s=0.4)
    return int(NOTES[odd]), size, hear(samples, RATE_HZ)


def hole(kind: str) -> list[float]:
    errors = []
    for number in range(RUNS):
        written, size, heard = run_with(kind, number)
        found = [h for h in heard.evenness.holes if h.kind == kind]
        errors.append(found[0].size - size if len(found) == 1 and found[0].written_midi == written else MISSED)
    return errors


def hole_against_least_squares() -> list[float]:
    errors = []
    for number in range(RUNS):
        written, _, heard = run_with("level", number)
        found = [h for h in heard.evenness.holes if h.kind == "level" and h.written_midi == written]
        notes = np.array([t.written_midi for t in heard.tones])
        levels = np.array([t.level_db for t in heard.tones])
        others = notes != written
        trend = np.polyval(np.polyfit(notes[others], levels[others], 2), written)
        errors.append(found[0].size - (levels[~others][0] - trend) if found else MISSED)
    return errors


def invented_holes() -> list[float]:
    return [float(len([h for h in run_with("none", n)[2].evenness.holes if h.kind != "colour"])) for n in range(RUNS)]


def overtones() -> list[float]:
    """Partials 2 to 8 over three fingered notes, each so many cents beside the exact harmonic."""
    errors = []
    for i, fingered in enumerate((58, 59, 60)):
        partials, beside = range(2, 9), np.linspace(-30, 30, 7)
        tones = [
            edged(scaled_to(harmonic(p * alto_hz(fingered, c), reedy(), 1.5, RATE_HZ, i), -22), RATE_HZ)
            for p, c in zip(partials, beside, strict=True)
        ]
        samples, starts = row_of_tones(tones, RATE_HZ, -70)
        asked = tuple(Asked(fingered, partial=p) for p in partials)
        found = matched(hear(samples, RATE_HZ, asked=asked).tones, starts)
        for p, cents, heard in zip(partials, beside, found, strict=True):
            errors.append(heard.pitch_cents - cents if heard is not None and heard.partial == p else MISSED)
    return errors


def levelled(samples: Samples, target_dbfs: float, up_s: float) -> Samples:
    """A gain control as phones have it: looks every 10 ms, turns down within 0.1 s and up within ``up_s``."""
    block = RATE_HZ // 100
    whole = samples[: len(samples) // block * block].reshape(-1, block)
    gain_db, gains = 0.0, []
    for level_db in 10 * np.log10(np.mean(whole**2, axis=1) + 1e-12):
        wanted = min(target_dbfs - level_db, 30.0)
        gain_db += (wanted - gain_db) * (1 - np.exp(-0.01 / (0.1 if wanted < gain_db else up_s)))
        gains.append(gain_db)
    at = (np.arange(len(gains)) + 0.5) * block
    return whole.ravel() * 10 ** (np.interp(np.arange(whole.size), at, gains) / 20)


def level_control(controlled: bool) -> list[float]:
    """1 where a control is missed or invented, over takes of ten tones at changing levels."""
    errors = []
    for number in range(6):
        rng = np.random.default_rng([number, 9])
        tones = [tone(int(w), float(rng.uniform(-34, -20)), 0, 7.0, i) for i, w in enumerate(rng.integers(60, 86, 10))]
        samples, _ = row_of_tones(tones, RATE_HZ, float(rng.uniform(-75, -60)), gap_s=0.9)
        if controlled:
            samples = levelled(samples, -20, 0.4 + 0.15 * number)
        errors.append(float(hear(samples, RATE_HZ).capture.level_control_suspected is not controlled))
    return errors


RUN = "33 notes about a bent trend"
SWEEPS = (
    Sweep("hole of level", "dB", f"{RUN}, one 5 to 10 dB off", "the formula", 0.9, 1.2, lambda: hole("level")),
    Sweep(
        "hole of level", "dB", f"{RUN}, one off", "least squares of the others", 0.3, 0.5, hole_against_least_squares
    ),
    Sweep("hole of pitch", "cents", f"{RUN}, one 20 to 40 cents off", "the formula", 3, 4, lambda: hole("pitch")),
    Sweep("holes where none is", "holes", RUN, "the formula", 0, 0, invented_holes),
    Sweep("pitch of overtones", "cents", "partials 2-8, -30 to 30 cents", "exact harmonics", 0.01, 0.02, overtones),
    Sweep(
        "level control missed",
        "takes",
        "ten tones, turned up within 0.4-1.2 s",
        "the formula",
        0,
        0,
        lambda: level_control(True),
    ),
    Sweep(
        "level control invented", "takes", "ten tones, steady noise", "the formula", 0, 0, lambda: level_control(False)
    ),
)
