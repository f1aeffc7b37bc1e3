"""Somebody else in the recording: two takes that know nothing of each other, added up; and each alone.

Sources: SoundFont saxophones played by FluidSynth, where the two MIDI files say who sounds when; real alto takes of the
folder of ``tests.reference.takes``, their samples as PyAV decodes them. Rooms are decaying noise, convolved by scipy.
How many dB the second one lies under the first is set here. Errors are 0 and 1, one a take.
"""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.core.records import Measurement
from tests.reference.hearing import PRODUCT_RATE_HZ, hear
from tests.reference.signals import Samples, row_of_tones
from tests.reference.soundfont import PROGRAMS, RATE_HZ, SOUND_FONTS, down, played, rendered, up
from tests.reference.sweep import Sweep
from tests.reference.sweeps.faults import in_room, moving
from tests.reference.sweeps.real import decoded
from tests.reference.takes import take, takes

STUDENT, OTHER = (60, 65, 70, 75, 80), (67, 62, 77, 71, 74)  # written for alto, a minor third to a tritone apart
TONE_S, PAUSE_S, OTHER_LATER_S = 2.5, 0.7, 0.4
UNDER_DB = (0, -6, -12, -18)
REAL_PAIRS = (("a2", "g"), ("g", "a3"), ("c", "b"))
ROOMS_DB = (-3.0, 0.0, 5.0, 10.0)


@cache
def part(font: str, written: tuple[int, ...], later_s: float = 0.0) -> Samples:
    events = []
    for place, note in enumerate(written):
        start_s = PAUSE_S + later_s + place * (TONE_S + PAUSE_S)
        events += [down(note, start_s, "alto"), up(note, start_s + TONE_S, "alto")]
    return rendered(font, "alto", events)


def added(student: Samples, other: Samples, other_db: float) -> Samples:
    """As long as the student plays; the other one so many dB over (under) that, both taken as a whole."""
    other = np.resize(other, len(student))
    by = 10 ** (other_db / 20) * np.sqrt(np.mean(student**2) / np.mean(other**2))
    return np.asarray(student + by * other)


@cache
def together(font: str, other_db: float) -> Measurement:
    return hear(added(part(font, STUDENT), part(font, OTHER, OTHER_LATER_S), other_db), RATE_HZ)


def noticed(heard: Measurement) -> bool:
    return "another_player" in heard.capture.reasons


def missed() -> list[float]:
    return [float(not noticed(together(font, db))) for font in SOUND_FONTS for db in UNDER_DB]


def missed_of_real() -> list[float]:
    found = []
    for student, other in REAL_PAIRS:
        (one, rate_hz), (two, other_rate_hz) = decoded(take(student).path), decoded(take(other).path)
        assert rate_hz == other_rate_hz
        found += [float(not noticed(hear(added(one, two, db), rate_hz))) for db in UNDER_DB]
    return found


def invented() -> list[float]:
    """One horn alone, dry and in two rooms."""
    found = []
    for font in SOUND_FONTS:
        for horn in PROGRAMS:
            alone = played(font, horn).samples
            found.append(float(noticed(hear(alone, RATE_HZ, instrument=horn))))
            rooms = [in_room(alone[::2], room_db, 3) for room_db in (8.0, 0.0)]
            found += [float(noticed(hear(sound, PRODUCT_RATE_HZ, instrument=horn))) for sound in rooms]
    return found


def invented_of_moving_tones() -> list[float]:
    found = []
    for room_db in ROOMS_DB:
        for seed in range(3):
            dice = np.random.default_rng([11, seed])
            row, _ = row_of_tones([moving(dice) for _ in range(20)], PRODUCT_RATE_HZ, -90, gap_s=0.5)
            found.append(float(noticed(hear(in_room(row, room_db, 1 + seed), PRODUCT_RATE_HZ))))
    return found


SETS = "SoundFont saxophones, FluidR3 and TimGM6mb"
LEVELS = "the second 0 to 18 dB under"
SWEEPS = (
    Sweep("another player missed", "takes", f"{SETS}, two at once, {LEVELS}", "the two MIDI files", 0, 0, missed),
    Sweep("another player invented", "takes", f"{SETS}, dry and in rooms", "the MIDI file played", 0, 0, invented),
    Sweep(
        "another player invented",
        "takes",
        "vibrato and scoops in rooms of -3 to 10 dB",
        "the formula, scipy's convolution",
        0,
        0,
        invented_of_moving_tones,
    ),
)
OF_REAL = (
    Sweep("another player missed", "takes", f"real alto takes, two at once, {LEVELS}", "the sum", 0, 0, missed_of_real),
    Sweep(
        "another player invented",
        "takes",
        "real alto takes",
        "the folder's own truth",
        0,
        0,
        lambda: [float(noticed(real.measured())) for real in takes()],
    ),
)
