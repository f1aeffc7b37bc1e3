"""Notes and instruments: written names, what they sound, the range of each horn (data/instruments.toml).

Written notes are MIDI numbers with C4 = 60 everywhere inside; names exist only at the edges:
``Bb3`` for machines (ASCII, as in the JSON report), ``B♭3`` for people.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path

NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")  # as players say them
STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
ACCIDENTALS = {"": 0, "#": 1, "♯": 1, "b": -1, "♭": -1, "n": 0, "♮": 0, "##": 2, "x": 2, "𝄪": 2, "bb": -2, "𝄫": -2}
ACCIDENTALS |= {"♯♯": 2, "♭♭": -2}
NOTE = re.compile(r"\s*([A-Ga-g])([^\d\s-]*)(-?\d{1,2})\s*")


@dataclass(frozen=True, slots=True)
class Instrument:
    """One horn. ``sounds_semitones``: sounding minus written; notes are written MIDI numbers."""

    name: str
    key: str
    sounds_semitones: int
    lowest_written: int
    highest_written: int
    window_samples: int  # of the spectrum at 24 kHz
    options: tuple[tuple[str, int, int], ...]  # other ranges that are built: name, lowest, highest

    @property
    def lowest_sounding(self) -> int:
        """The lowest note any build of this horn has, as it sounds."""
        return min([self.lowest_written, *(low for _, low, _ in self.options)]) + self.sounds_semitones

    def written(self, sounding_midi: int) -> int:
        return sounding_midi - self.sounds_semitones

    def sounding(self, written_midi: int) -> int:
        return written_midi + self.sounds_semitones


@cache
def instruments() -> Mapping[str, Instrument]:
    """Every instrument of data/instruments.toml by name, from high to low."""
    rows = tomllib.loads((Path(__file__).parent / "data" / "instruments.toml").read_text(encoding="utf-8"))
    return {
        name: Instrument(
            name=name,
            key=row["key"],
            sounds_semitones=row["sounds_semitones"],
            lowest_written=row["lowest_written"],
            highest_written=row["highest_written"],
            window_samples=row["window_samples"],
            options=tuple((o["name"], o["lowest_written"], o["highest_written"]) for o in row.get("options", ())),
        )
        for name, row in rows.items()
    }


def instrument(name: str) -> Instrument:
    """The instrument of that name. ``KeyError`` names those that exist."""
    if name not in instruments():
        raise KeyError(f"There is no instrument {name!r}; there are: {', '.join(instruments())}.")
    return instruments()[name]


def note_name(midi: int) -> str:
    """58 -> "Bb3", for machines."""
    return f"{NAMES[midi % 12]}{midi // 12 - 1}"


def note_sign(midi: int) -> str:
    """58 -> "B♭3", for people."""
    return note_name(midi).replace("#", "♯").replace("b", "♭")


def parse_note(text: str) -> int:
    """ "Bb3", "A#3", "B♭3", "Cb4" … -> MIDI number. ``ValueError`` says what is wrong, in words."""
    match = NOTE.fullmatch(text)
    if match is None or match[2] not in ACCIDENTALS:
        raise ValueError(f"“{text.strip()[:20]}” is not a note. Write a letter, a sign and an octave, like Bb3 or C#4.")
    midi = 12 * (int(match[3]) + 1) + STEPS[match[1].upper()] + ACCIDENTALS[match[2]]
    if not 0 <= midi <= 127:
        raise ValueError(f"“{text.strip()[:20]}” lies outside every instrument. Middle C is C4.")
    return midi


def hz_of_midi(midi: float, a4_hz: float = 440.0) -> float:
    """Equal temperament (ISO 16 fixes A4 = 440 Hz): ``a4_hz * 2 ** ((midi - 69) / 12)``."""
    return float(a4_hz * 2.0 ** ((midi - 69.0) / 12.0))
