"""Pitch: which note, and how far beside it.

Truth: the frequency that the formula was given; Praat's autocorrelation pitch (Boersma 1993); librosa's yin
(de Cheveigné and Kawahara 2002).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

import librosa
import numpy as np

from analysis.core.records import Tone
from analysis.core.tables import instruments
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear, matched, praat_pitch_hz, steady
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to
from tests.reference.sweep import MISSED, Sweep

SECONDS = 1.6
WRITTEN = (58, 62, 67, 72, 74, 79, 84, 87, 90)


@dataclass(frozen=True, slots=True)
class Row:
    """Tones one after another, what each was given, and what the product heard of it."""

    samples: Samples
    truth: tuple[float, ...]
    heard: tuple[Tone | None, ...]


def cents(f_hz: float, reference_hz: float) -> float:
    return float(1200 * np.log2(f_hz / reference_hz))


@cache
def detuned(noise_dbfs: float) -> tuple[Row, ...]:
    """One row an instrument: notes over its range, each up to 40 cents beside equal temperament. Truth: Hz."""
    rows = []
    for seed, horn in enumerate(instruments().values()):
        rng = np.random.default_rng([seed, 7])
        truth = tuple(440 * 2 ** ((w + horn.sounds_semitones - 69) / 12 + rng.uniform(-40, 40) / 1200) for w in WRITTEN)
        tones = [
            edged(scaled_to(harmonic(f0, reedy(20, rng.uniform(5, 11)), SECONDS, RATE_HZ, seed), -22), RATE_HZ)
            for f0 in truth
        ]
        samples, starts = row_of_tones(tones, RATE_HZ, noise_dbfs)
        heard = matched(hear(samples, RATE_HZ, instrument=horn.name).tones, starts)
        rows.append(Row(samples, truth, tuple(heard)))
    return tuple(rows)


def against_formula(noise_dbfs: float) -> list[float]:
    return [
        cents(tone.f0_hz, f0) if tone else MISSED
        for row in detuned(noise_dbfs)
        for f0, tone in zip(row.truth, row.heard, strict=True)
    ]


def against_praat() -> list[float]:
    """In noise 30 dB under the tone."""
    return [
        cents(
            tone.f0_hz, float(np.median(praat_pitch_hz(steady(tone, row.samples, RATE_HZ), RATE_HZ, f0 / 1.6, f0 * 2)))
        )
        if tone
        else MISSED
        for row in detuned(-52.0)
        for f0, tone in zip(row.truth, row.heard, strict=True)
    ]


def against_yin() -> list[float]:
    """Alto and lower: its parabola between samples is itself some cents off where a period has few of them."""
    errors = []
    for row in detuned(-52.0)[2:]:
        for f0, tone in zip(row.truth, row.heard, strict=True):
            if tone is None:
                errors.append(MISSED)
                continue
            part = steady(tone, row.samples, RATE_HZ)
            theirs = librosa.yin(part, fmin=f0 / 1.5, fmax=f0 * 2.5, sr=RATE_HZ, frame_length=4096, hop_length=1200)
            errors.append(cents(tone.f0_hz, float(np.median(theirs[2:-2]))))
    return errors


def named() -> list[float]:
    """Semitones between the note that was sounded and the note that was written down."""
    errors = []
    for row, horn in zip(detuned(-52.0), instruments().values(), strict=True):
        for written, tone in zip(WRITTEN, row.heard, strict=True):
            errors.append(
                float(tone.written_midi - written) if tone and tone.sounding_midi == horn.sounding(written) else MISSED
            )
    return errors


FORMULA_54 = "20 partials, 6 horns x 9 notes"
SWEEPS = (
    Sweep("note name", "semitones", FORMULA_54, "equal temperament", 0, 0, named),
    Sweep("pitch", "cents", f"{FORMULA_54}, dry", "the formula", 0.01, 0.05, lambda: against_formula(-90.0)),
    Sweep(
        "pitch", "cents", f"{FORMULA_54}, noise 20 dB under", "the formula", 0.1, 0.2, lambda: against_formula(-42.0)
    ),
    Sweep(
        "pitch", "cents", f"{FORMULA_54}, noise 10 dB under", "the formula", 0.3, 0.6, lambda: against_formula(-32.0)
    ),
    Sweep("pitch", "cents", f"{FORMULA_54}, noise 30 dB under", "Praat autocorrelation", 0.2, 0.3, against_praat),
    Sweep(
        "pitch",
        "cents",
        "20 partials, 4 lower horns x 9 notes, noise 30 dB under",
        "librosa yin",
        2.0,
        3.0,
        against_yin,
    ),
)
