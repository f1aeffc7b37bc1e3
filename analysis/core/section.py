"""Evenness of a section: players who recorded the same unison or chord, each alone, held against each other.

What holds between phones and rooms is compared: pitch, steadiness, how a tone begins. Colour only of players who
sound the same note, and with wide errors. Loudness is not compared at all: one phone lies nearer than another.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from statistics import median
from typing import Any, Literal

from analysis.core.records import Tone
from analysis.core.tables import hz_of_midi

Measure = Literal["pitch", "pitch_spread", "level_spread", "rise", "colour"]
SURE = 2.0  # standard deviations


@dataclass(frozen=True, slots=True)
class Voice:
    """One player's tone. ``colour_error_pct``: of the take it comes from, what its room may do."""

    sounding_midi: int  # that was asked for
    tone: Tone
    colour_error_pct: float


@dataclass(frozen=True, slots=True)
class Reading:
    """One number of one voice; ``error``: one standard deviation, in its unit."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class Across:
    """One measure over the section. ``readings``: by voice, None where nothing could be read.

    ``lowest`` and ``highest``: places of the voices furthest apart.
    """

    measure: Measure
    readings: tuple[Reading | None, ...]
    lowest: int
    highest: int
    difference: float
    error: float
    least: float  # from here on a difference is heard

    @property
    def verdict(self) -> Literal["even", "apart", "unsure"]:
        """``unsure``: nearer to what is heard than the readings can tell."""
        if self.difference - SURE * self.error > self.least:
            return "apart"
        return "even" if self.difference + SURE * self.error <= self.least else "unsure"

    @property
    def middle(self) -> float:
        """The median of the voices."""
        return median(reading.value for reading in self.readings if reading)


def read(voices: Sequence[Voice | None], a4_hz: float) -> tuple[Across, ...]:
    """What can be compared, in the order of ``Measure``; a measure that fewer than two voices have is left out.

    ``voices``: by seat, None for who hasn't recorded. ``a4_hz``: the reference that all were asked to meet.
    """
    found = []
    for measure, reader in READERS.items():
        readings = tuple(reader(voice, a4_hz) if voice else None for voice in voices)
        if measure == "colour" and len({voice.sounding_midi for voice in voices if voice}) > 1:
            continue  # different notes of one horn differ in colour already
        if sum(reading is not None for reading in readings) > 1:
            found.append(_across(measure, readings))
    return tuple(found)


def beats_per_s(one: Voice, other: Voice) -> float | None:
    """How often two players of the same note beat when they sound together: the difference of their frequencies."""
    return abs(one.tone.f0_hz - other.tone.f0_hz) if one.sounding_midi == other.sounding_midi else None


def least(measure: Measure) -> float:
    """From which difference on a listener tells two players apart, in the unit of the measure."""
    return float(_table()["measure"][measure]["least"])


def pitch(voice: Voice, a4_hz: float) -> Reading:
    """Cents against the voice's own note in equal temperament at ``a4_hz``: 1200 log2 of the ratio."""
    cents = 1200.0 * math.log2(voice.tone.f0_hz / hz_of_midi(voice.sounding_midi, a4_hz))
    own = voice.tone.uncertainty.get("pitch_cents", 0.0)
    return Reading(cents, math.hypot(own, _table()["phone"]["clock_cents"]))


def _across(measure: Measure, readings: tuple[Reading | None, ...]) -> Across:
    known = {place: reading for place, reading in enumerate(readings) if reading}
    lowest = min(known, key=lambda place: known[place].value)
    highest = max(known, key=lambda place: known[place].value)
    return Across(
        measure=measure,
        readings=readings,
        lowest=lowest,
        highest=highest,
        difference=known[highest].value - known[lowest].value,
        error=math.hypot(known[lowest].error, known[highest].error),
        least=least(measure),
    )


def _of_tone(part: str, value: Callable[[Tone], float | None]) -> Callable[[Voice, float], Reading | None]:
    """A field of the report with its own error, unless something spoilt it."""

    def reading(voice: Voice, _a4_hz: float) -> Reading | None:
        found = value(voice.tone)
        if found is None or part in voice.tone.hidden:
            return None
        return Reading(found, voice.tone.uncertainty.get(part, 0.0))

    return reading


def _colour(voice: Voice, _a4_hz: float) -> Reading | None:
    """Hundredths of the natural logarithm of the centroid in partials: percent, near enough."""
    centroid = voice.tone.colour.centroid_harmonics
    if not centroid or "colour" in voice.tone.hidden:
        return None
    return Reading(100.0 * math.log(centroid), math.hypot(voice.colour_error_pct, _table()["phone"]["colour_pct"]))


READERS: Mapping[Measure, Callable[[Voice, float], Reading | None]] = {
    "pitch": pitch,
    "pitch_spread": _of_tone("pitch_spread_cents", lambda tone: tone.pitch_spread_cents),
    "level_spread": _of_tone("level_spread_db", lambda tone: tone.level_spread_db),
    "rise": _of_tone("rise_s", lambda tone: tone.attack.rise_s),
    "colour": _colour,
}


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((Path(__file__).parent / "data" / "section.toml").read_text(encoding="utf-8"))
