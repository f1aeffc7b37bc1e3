"""Faults that no library measures, made by means that are not ours: found where they are, and nowhere else.

A note struck twice and a swelling end are events of a MIDI file, played by FluidSynth on SoundFonts; the rooms in which
nothing must be invented are decaying noise, convolved by scipy. Errors are 0 and 1. What spoils whole takes is in
capture.py.
"""

from __future__ import annotations

import numpy as np
from scipy.signal import fftconvolve

from analysis.core.records import Tone
from tests.reference.hearing import PRODUCT_RATE_HZ, hear, matched
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to, times
from tests.reference.soundfont import PROGRAMS, RATE_HZ, SOUND_FONTS, Event, down, expression, rendered, up
from tests.reference.sweep import Sweep
from tests.reference.sweeps import soundfont
from tests.reference.sweeps.run import alto_hz

NOTES = tuple(range(58, 91, 4))
STRUCK_AGAIN_S = ((0.08, 0.06), (0.08, 0.09), (0.10, 0.12))  # how long the first stroke sounds, and the silence after
TONE_S, PAUSE_S = 1.6, 0.8
SOFT, LOUD, LAST_S = 80, 127, 0.15  # of expression: 8 dB more for the last moment of a tone
ROOMS_DB, SEEDS, WAVED = (-3.0, 0.0, 5.0, 10.0), range(4), 24


def each(events: list[list[Event]], font: str, horn: str) -> list[Tone | None]:
    """One tone a note, each in a place of its own."""
    starts_s = [0.6 + place * (TONE_S + PAUSE_S) for place in range(len(events))]
    shifted = [(start_s + at_s, what) for start_s, of in zip(starts_s, events, strict=True) for at_s, what in of]
    return matched(hear(rendered(font, horn, shifted), RATE_HZ, instrument=horn).tones, starts_s)


def double_start_missed() -> list[float]:
    missed = []
    for font in SOUND_FONTS:
        for horn in PROGRAMS:
            for first_s, silent_s in STRUCK_AGAIN_S:
                again_s = first_s + silent_s
                events = [
                    [down(n, 0, horn), up(n, first_s, horn), down(n, again_s, horn), up(n, TONE_S, horn)] for n in NOTES
                ]
                missed += [float(tone is None or not tone.attack.double_start) for tone in each(events, font, horn)]
    return missed


def bump_missed() -> list[float]:
    missed = []
    for font in SOUND_FONTS:
        for horn in PROGRAMS:
            events = [
                [expression(-0.01, SOFT), down(n, 0, horn), expression(TONE_S - LAST_S, LOUD), up(n, TONE_S, horn)]
                for n in NOTES
            ]
            missed += [float(tone is None or tone.release.kind != "bumped") for tone in each(events, font, horn)]
    return missed


def untouched() -> list[Tone]:
    return [tone for *_, tone in soundfont.heard() if tone is not None]


def in_room(samples: Samples, direct_over_room_db: float, seed: int) -> Samples:
    """White noise that decays by 60 dB in 0.6 s, 4 ms after the sound itself."""
    t_s = times(0.6, PRODUCT_RATE_HZ)
    tail = np.random.default_rng(seed).standard_normal(len(t_s)) * 10 ** (-3 * t_s / 0.6) * (t_s >= 0.004)
    tail *= 10 ** (-direct_over_room_db / 20) / np.sqrt(np.sum(tail**2))
    return np.asarray(0.5 * (samples + fftconvolve(samples, tail)[: len(samples)]))


def moving(dice: np.random.Generator) -> Samples:
    """A tone with a vibrato of 10 to 60 cents or, one in three, a scoop of 30 to 120."""
    t_s = times(TONE_S, PRODUCT_RATE_HZ)
    cents = dice.uniform(10, 60) * np.sin(2 * np.pi * (dice.uniform(3.5, 6.5) * t_s + dice.uniform()))
    if dice.uniform() < 1 / 3:
        cents = -dice.uniform(30, 120) * np.exp(-t_s / dice.uniform(0.05, 0.15))
    f0_hz = alto_hz(int(dice.integers(58, 91))) * 2 ** (cents / 1200)
    bright = reedy(20, dice.uniform(5, 14))
    tone = harmonic(f0_hz, bright, TONE_S, PRODUCT_RATE_HZ, int(dice.integers(10_000)))
    return edged(scaled_to(tone, -20), PRODUCT_RATE_HZ)


def double_start_invented_in_rooms() -> list[float]:
    dice, invented = np.random.default_rng(5), []
    for room_db in ROOMS_DB:
        for seed in SEEDS:
            row, _ = row_of_tones([moving(dice) for _ in range(WAVED)], PRODUCT_RATE_HZ, -90, gap_s=PAUSE_S)
            invented += [float(tone.attack.double_start) for tone in hear(in_room(row, room_db, 100 + seed)).tones]
    return invented


SETS, FILE = "SoundFont saxophones, FluidR3 and TimGM6mb", "the MIDI file played"
SWEEPS = (
    Sweep("double start missed", "tones", f"{SETS}, struck again 60-120 ms after", FILE, 0, 1, double_start_missed),
    Sweep(
        "double start invented", "tones", SETS, FILE, 0, 0, lambda: [float(t.attack.double_start) for t in untouched()]
    ),
    Sweep(
        "double start invented",
        "tones",
        "vibrato and scoops in rooms of -3 to 10 dB",
        "the formula, scipy's convolution",
        0,
        1,
        double_start_invented_in_rooms,
    ),
    Sweep("bump missed", "tones", f"{SETS}, expression 8 dB up for the last 150 ms", FILE, 0, 1, bump_missed),
    Sweep("bump invented", "tones", SETS, FILE, 0, 0, lambda: [float(t.release.kind == "bumped") for t in untouched()]),
)
