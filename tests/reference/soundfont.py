"""Saxophones that none of us shaped: General MIDI programs 65 to 68 of free SoundFonts, played by FluidSynth.

Source: Debian packages fluid-soundfont-gm (FluidR3_GM.sf2, MIT) and timgm6mb-soundfont (TimGM6mb.sf2, GPL 2), and the
program fluidsynth 2. The truth is the standard MIDI file that was played: which key, when it goes down and up.
"""

from __future__ import annotations

import struct
import subprocess
import tempfile
from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import numpy as np
import soundfile

SOUND_FONTS = {
    "FluidR3": Path("/usr/share/sounds/sf2/FluidR3_GM.sf2"),
    "TimGM6mb": Path("/usr/share/sounds/sf2/TimGM6mb.sf2"),
}
PROGRAMS = {"soprano": 64, "alto": 65, "tenor": 66, "baritone": 67}  # counted from 0
TRANSPOSES = {"soprano": -2, "alto": -9, "tenor": -14, "baritone": -21}
RATE_HZ = 48_000
TICKS_PER_SECOND = 960  # 480 a quarter note at the usual 120 a minute
Event = tuple[float, bytes]  # (seconds, MIDI message)


@dataclass(frozen=True, slots=True)
class Played:
    samples: np.ndarray
    written: tuple[int, ...]
    starts_s: tuple[float, ...]
    seconds: float


@cache
def played(font: str, instrument: str, seconds: float = 1.4, gap_s: float = 0.6, velocity: int = 90) -> Played:
    """Every third written note from B♭3 to F♯6, without reverb and chorus. Missing programs fail loudly."""
    written = tuple(range(58, 91, 3)) if instrument != "alto" else tuple(range(58, 91))
    starts_s = tuple(gap_s + i * (seconds + gap_s) for i in range(len(written)))
    events: list[Event] = []
    for note, at_s in zip(written, starts_s, strict=True):
        events += [down(note, at_s, instrument, velocity), up(note, at_s + seconds, instrument)]
    return Played(rendered(font, instrument, events, gap_s), written, starts_s, seconds)


def down(written: int, at_s: float, instrument: str, velocity: int = 90) -> Event:
    return at_s, bytes([0x90, written + TRANSPOSES[instrument], velocity])


def up(written: int, at_s: float, instrument: str) -> Event:
    return at_s, bytes([0x80, written + TRANSPOSES[instrument], 0])


def expression(at_s: float, value: int) -> Event:
    """Controller 11: by the General MIDI level 2 specification 40 log10(value / 127) dB."""
    return at_s, bytes([0xB0, 11, value])


def rendered(font: str, instrument: str, events: Iterable[Event], after_s: float = 0.6) -> np.ndarray:
    """What FluidSynth makes of these events in the order of their times, and so long after the last."""
    track, at_ticks = _delta(0) + bytes([0xC0, PROGRAMS[instrument]]), 0
    for at_s, message in sorted(events, key=lambda event: event[0]):
        ticks = round(at_s * TICKS_PER_SECOND)
        track += _delta(ticks - at_ticks) + message
        at_ticks = ticks
    track += _delta(round(after_s * TICKS_PER_SECOND)) + b"\xff\x2f\x00"
    header = b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS_PER_SECOND // 2)
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "score.mid"), Path(folder, "sound.wav")
        score.write_bytes(header + b"MTrk" + struct.pack(">I", len(track)) + track)
        command = ["fluidsynth", "-n", "-i", "-q", "-r", str(RATE_HZ), "-R", "0", "-C", "0", "-g", "1.5", "-F"]
        subprocess.run([*command, str(sound), str(SOUND_FONTS[font]), str(score)], check=True, capture_output=True)
        samples, rate_hz = soundfile.read(sound)
    assert rate_hz == RATE_HZ
    mono: np.ndarray = samples.mean(axis=1)
    return mono


def _delta(ticks: int) -> bytes:
    """A MIDI variable-length number."""
    out = [ticks & 0x7F]
    while ticks := ticks >> 7:
        out.insert(0, (ticks & 0x7F) | 0x80)
    return bytes(out)
