"""Hum of the mains under a take: no tone of it, and no note lost or cut short by it.

Sounded: SoundFont saxophones, played by FluidSynth from a MIDI file, and low soft notes by formula; under them 50 or
60 Hz with the partials of a cable, of a rectifier (every second one), of a dimmer (all), by formula, wandering by a
fiftieth of a percent as mains do. The limits of ``analysis.core.hum`` were chosen on FluidR3 and tried on TimGM6mb.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cache

import numpy as np
from scipy.signal import resample_poly

from tests.reference.hearing import PRODUCT_RATE_HZ, hear
from tests.reference.signals import Samples, edged, harmonic, row_of_tones, scaled_to, times, white
from tests.reference.soundfont import RATE_HZ, SOUND_FONTS, played
from tests.reference.sweep import Sweep

MAINS_HZ = (50.0, 60.0)
KINDS: dict[str, list[float]] = {
    "cable": [1.0, 0.5, 0.3],
    "rectifier": [0.0, 1.0, 0.0, 0.5, 0.0, 0.35, 0.0, 0.2],
    "dimmer": [1.0 / k for k in range(1, 21)],
}
UNDER_DB = (18.0, 30.0)
TONES_DBFS, NOISE_DBFS, SECONDS = -28.0, -75.0, 13
HORNS = ("baritone", "tenor", "alto", "soprano")
LOWEST_HZ = {"baritone": (65.406, 69.296, 73.416, 77.782), "bass": (51.913, 55.0, 58.270, 61.735)}  # A4 = 440
DULL = (1.0, 0.5, 0.2, 0.1, 0.05, 0.03)  # as soft low notes are
HUM_DBFS = (-70.0, -60.0, -50.0)


def hum(seconds: float, mains_hz: float, kind: str, rms_dbfs: float) -> Samples:
    at_s = times(seconds, PRODUCT_RATE_HZ)
    wanders = mains_hz * (1.0 + 2e-4 * np.sin(2 * np.pi * at_s / 7.0))
    return scaled_to(harmonic(wanders, KINDS[kind], seconds, PRODUCT_RATE_HZ, 7), rms_dbfs)


def every_hum(seconds: float, *rms_dbfs: float) -> Iterator[Samples]:
    return (hum(seconds, mains_hz, kind, dbfs) for mains_hz in MAINS_HZ for kind in KINDS for dbfs in rms_dbfs)


@cache
def sounded(font: str, horn: str) -> tuple[Samples, tuple[int, ...]]:
    """13 s of it, its tones at -28 dBFS (RMS) over noise of -75, and the notes that are whole."""
    of_font = played(font, horn, gap_s=1.0)
    sound = resample_poly(of_font.samples, PRODUCT_RATE_HZ, RATE_HZ)[: SECONDS * PRODUCT_RATE_HZ]
    sound *= 10 ** (TONES_DBFS / 20) / np.sqrt(np.mean(sound[np.abs(sound) > 1e-3] ** 2))
    ends_s = (start_s + of_font.seconds for start_s in of_font.starts_s)
    whole = tuple(note for note, end_s in zip(of_font.written, ends_s, strict=True) if end_s < SECONDS)
    return sound + 10 ** (NOISE_DBFS / 20) * white(SECONDS, PRODUCT_RATE_HZ, 1), whole


def wrong() -> Sequence[float]:
    """Of each take the tones too many, too few or named otherwise."""
    errors = []
    for font in SOUND_FONTS:
        for horn in HORNS:
            sound, notes = sounded(font, horn)
            for under in every_hum(SECONDS, *(TONES_DBFS - db for db in UNDER_DB)):
                heard = [tone.written_midi for tone in hear(sound + under, instrument=horn).tones]
                same = sum(a == b for a, b in zip(heard, notes, strict=False))
                errors.append(float(max(len(heard), len(notes)) - same))
    return errors


def low_missed() -> Sequence[float]:
    """Low soft notes one after another, without hum and 18 dB over it."""
    errors: list[float] = []
    for horn, pitches in LOWEST_HZ.items():
        tones = [
            edged(scaled_to(harmonic(f0_hz, DULL, 1.8, PRODUCT_RATE_HZ, 3), -45.0), PRODUCT_RATE_HZ)
            for f0_hz in pitches
        ]
        row, _ = row_of_tones(tones, PRODUCT_RATE_HZ, NOISE_DBFS)
        seconds = len(row) / PRODUCT_RATE_HZ
        for under in (np.zeros(len(row)), *every_hum(seconds, -45.0 - UNDER_DB[0])):
            found = [tone.f0_hz for tone in hear(row + under, instrument=horn).tones]
            right = len(found) == len(pitches) and bool(np.allclose(found, pitches, rtol=0.006))
            errors.append(float(not right))
    return errors


def alone() -> Sequence[float]:
    """Four seconds in which nothing else is heard."""
    hiss = 10 ** (NOISE_DBFS / 20) * white(4, PRODUCT_RATE_HZ, 2)
    return [
        float(len(hear(hiss + one, instrument=horn).tones))
        for horn in (*HORNS, "bass", "sopranino")
        for one in every_hum(4, *HUM_DBFS)
    ]


SWEEPS = (
    Sweep(
        "notes lost or invented over hum",
        "tones",
        "SoundFont saxophones, FluidR3 and TimGM6mb, 50 and 60 Hz 18 and 30 dB under",
        "the MIDI file played",
        0,
        0,
        wrong,
    ),
    Sweep(
        "notes lost or invented over hum",
        "takes",
        "baritone and bass, the four lowest notes, soft, 18 dB over it and without",
        "the formula",
        0,
        0,
        low_missed,
    ),
    Sweep("hum heard as a tone", "tones", "hum alone, -70 to -50 dBFS, every horn", "the formula", 0, 0, alone),
)
