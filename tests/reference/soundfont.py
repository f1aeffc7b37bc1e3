"""Saxophones that none of us shaped: General MIDI programs 65 to 68 of free SoundFonts, played by FluidSynth.

Source: Debian packages fluid-soundfont-gm (FluidR3_GM.sf2, MIT) and timgm6mb-soundfont (TimGM6mb.sf2, GPL 2), and the
program fluidsynth 2. The truth is the standard MIDI file that was played: which key, when it goes down and up.
"""

from __future__ import annotations

import struct
import subprocess
import tempfile
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
    step_s = seconds + gap_s
    starts_s = tuple(gap_s + i * step_s for i in range(len(written)))
    events = bytes([0, 0xC0, PROGRAMS[instrument]])
    for midi in (note + TRANSPOSES[instrument] for note in written):
        events += _delta(gap_s) + bytes([0x90, midi, velocity]) + _delta(seconds) + bytes([0x80, midi, 0])
    events += _delta(gap_s) + b"\xff\x2f\x00"
    header = b"MThd" + struct.pack(">IHHH", 6, 0, 1, TICKS_PER_SECOND // 2)
    with tempfile.TemporaryDirectory() as folder:
        score, sound = Path(folder, "score.mid"), Path(folder, "sound.wav")
        score.write_bytes(header + b"MTrk" + struct.pack(">I", len(events)) + events)
        command = ["fluidsynth", "-n", "-i", "-q", "-r", str(RATE_HZ), "-R", "0", "-C", "0", "-g", "1.5", "-F"]
        subprocess.run([*command, str(sound), str(SOUND_FONTS[font]), str(score)], check=True, capture_output=True)
        samples, rate_hz = soundfile.read(sound)
    assert rate_hz == RATE_HZ
    return Played(samples.mean(axis=1), written, starts_s, seconds)


def _delta(seconds: float) -> bytes:
    """A MIDI variable-length number of ticks."""
    ticks = round(seconds * TICKS_PER_SECOND)
    out = [ticks & 0x7F]
    while ticks := ticks >> 7:
        out.insert(0, (ticks & 0x7F) | 0x80)
    return bytes(out)
