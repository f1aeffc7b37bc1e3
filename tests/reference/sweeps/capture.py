"""What a phone does to a whole take, done by FFmpeg's own filters: noticed where it was done, and nowhere else.

Sounded: saxophones of free SoundFonts, played by FluidSynth from a MIDI file, over white noise; and real takes, where
their folder is present. Errors are 0 and 1, one a take. The detectors' limits were chosen on FluidR3 and on real takes
a2, b, e, g and i1, and tried on TimGM6mb and the other takes, two of which (i0, c) changed the gate's rule once more.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence

import numpy as np

from tests.reference.filters import Step, through
from tests.reference.hearing import hear
from tests.reference.signals import Samples
from tests.reference.soundfont import PROGRAMS, RATE_HZ, SOUND_FONTS, played
from tests.reference.sweep import Sweep
from tests.reference.sweeps.real import decoded
from tests.reference.takes import take

Takes = Iterable[tuple[str, Samples, int]]  # horn, sound, its rate
NOISE_DB = (35.0, 45.0)  # under the take
WANDERS = ((2.0, 6.0), (5.0, 10.0), (12.0, 6.0))  # noise that comes and goes by itself: seconds, dB either way
GATE_OVER_DB = 9.0  # over the noise
TELEPHONE: tuple[Step, ...] = (
    ("highpass", {"f": 300}),
    ("lowpass", {"f": 3400}),
    ("aresample", {"sample_rate": 8000}),
)
LEVELLERS: tuple[Step, ...] = (
    ("acompressor", {"threshold": 0.02, "ratio": 8, "attack": 20, "release": 300, "makeup": 8}),
    ("compand", {"attacks": 0.1, "decays": 0.8, "points": "-90/-60|-60/-22|-30/-17|0/-12"}),
    ("speechnorm", {"e": 20, "r": 0.0005, "l": 1}),
    ("dynaudnorm", {"f": 150, "g": 5, "m": 20}),
)
# Levelling that looks seconds ahead: as it comes, slower and less, in longer pieces.
SLOW: tuple[Step, ...] = tuple(("dynaudnorm", how) for how in ({}, {"f": 500, "g": 15, "m": 10}, {"f": 1000, "g": 11}))
SLOWLY_LEVELLED = ("a2", "a3", "b", "c", "d", "g", "h", "i0", "i1", "i2", "i3", "i5", "i6")
# Plain tones with pauses. The breaths of a3 fill the pauses; d is left to its vibrato.
REAL = ("a2", "b", "c", "g", "i1")


def sets(*noise_db: float | None) -> Iterator[tuple[str, Samples, float]]:
    """(horn, take, RMS of the white noise in it) of both fonts and four horns."""
    for font in SOUND_FONTS:
        for horn in PROGRAMS:
            clean = played(font, horn, gap_s=1.2).samples
            dice = np.random.default_rng(3).standard_normal(len(clean))
            for under_db in noise_db:
                noise = 0.0 if under_db is None else float(np.sqrt(np.mean(clean**2)) * 10 ** (-under_db / 20))
                yield horn, clean + noise * dice, noise


def fonts(*noise_db: float | None, steps: Sequence[Step] = ()) -> Takes:
    return ((horn, through(sound, RATE_HZ, *steps) if steps else sound, RATE_HZ) for horn, sound, _ in sets(*noise_db))


def gate(noise: float, release_ms: int) -> Step:
    opens = noise * 10 ** (GATE_OVER_DB / 20)
    return "agate", {"threshold": opens, "range": 0.01, "ratio": 10, "attack": 10, "release": release_ms}


def gated(release_ms: int) -> Takes:
    return ((horn, through(sound, RATE_HZ, gate(noise, release_ms)), RATE_HZ) for horn, sound, noise in sets(*NOISE_DB))


def wandering() -> Takes:
    """Noise about 40 dB under the take, in waves of its own."""
    for number, (horn, clean, _) in enumerate(sets(None)):
        noise = np.sqrt(np.mean(clean**2)) / 100 * np.random.default_rng(number).standard_normal(len(clean))
        for period_s, swing_db in WANDERS:
            course_db = swing_db * np.sin(2 * np.pi * np.arange(len(clean)) / RATE_HZ / period_s + number)
            yield horn, clean + noise * 10 ** (course_db / 20), RATE_HZ


def real(*steps: Step, shorts: Sequence[str] = REAL) -> Takes:
    for short in shorts:
        sound, rate_hz = decoded(take(short).path)
        yield "alto", through(sound, rate_hz, *steps), rate_hz


def real_gated(release_ms: int) -> Takes:
    """A gate 9 dB over the quiet tenth of each take, in pieces of 0.1 s."""
    for short in REAL:
        sound, rate_hz = decoded(take(short).path)
        pieces = np.array_split(sound, len(sound) // (rate_hz // 10))
        noise = float(np.percentile([np.sqrt(np.mean(piece**2)) for piece in pieces], 10))
        yield "alto", through(sound, rate_hz, gate(noise, release_ms)), rate_hz


def missed(code: str, of: Takes) -> Sequence[float]:
    return [float(code not in hear(sound, rate_hz, instrument=horn).capture.reasons) for horn, sound, rate_hz in of]


def invented(of: Takes) -> Sequence[float]:
    return [float(bool(hear(sound, rate_hz, instrument=horn).capture.reasons)) for horn, sound, rate_hz in of]


GATE, LEVELLED, NARROW = "noise_gate", "level_control_suspected", "narrow_band"
SETS = "SoundFont saxophones, FluidR3 and TimGM6mb"
ALTO = "real alto takes"
SWEEPS = (
    *(
        Sweep(
            "noise gate missed",
            "takes",
            f"{SETS}, noise and a gate of {release_ms} ms",
            "FFmpeg's agate",
            0,
            0,
            lambda release_ms=release_ms: missed(GATE, gated(release_ms)),
        )
        for release_ms in (150, 80)
    ),
    *(
        Sweep(
            "level control missed",
            "takes",
            f"{SETS}, noise 45 dB under",
            f"FFmpeg's {step[0]}",
            0,
            0,
            lambda step=step: missed(LEVELLED, fonts(45.0, steps=[step])),
        )
        for step in LEVELLERS
    ),
    Sweep(
        "narrow band missed",
        "takes",
        f"{SETS}, 300 to 3400 Hz at 8 kHz",
        "FFmpeg's filters",
        0,
        0,
        lambda: missed(NARROW, fonts(None, 45.0, steps=TELEPHONE)),
    ),
    Sweep(
        "any of these invented",
        "takes",
        f"{SETS}, as they are and over noise",
        "the MIDI file played",
        0,
        0,
        lambda: invented(fonts(None, *NOISE_DB)),
    ),
    Sweep(
        "any of these invented",
        "takes",
        f"{SETS}, over noise that wanders 6 to 10 dB",
        "the formula",
        0,
        0,
        lambda: invented(wandering()),
    ),
)
OF_REAL = (
    Sweep(
        "noise gate missed",
        "takes",
        f"{ALTO}, a gate of 80 ms",
        "FFmpeg's agate",
        0,
        0,
        lambda: missed(GATE, real_gated(80)),
    ),
    Sweep(
        "level control missed",
        "takes",
        ALTO,
        "FFmpeg's acompressor and compand",
        0,
        0,
        lambda: [one for step in LEVELLERS[:2] for one in missed(LEVELLED, real(step))],
    ),
    Sweep(
        "level control missed",
        "takes",
        f"{ALTO}, three ways that take seconds",
        "FFmpeg's dynaudnorm",
        0,
        0,
        lambda: [one for step in SLOW for one in missed(LEVELLED, real(step, shorts=SLOWLY_LEVELLED))],
    ),
    Sweep(
        "narrow band missed",
        "takes",
        f"{ALTO}, 300 to 3400 Hz at 8 kHz",
        "FFmpeg's filters",
        0,
        0,
        lambda: missed(NARROW, real(*TELEPHONE)),
    ),
)
