"""What a tone counts with in a run, and how far the passes of one note lie apart."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from analysis.core.records import Repeat, Tone

Kind = Literal["level", "colour", "pitch", "witness"]


def value_of(tone: Tone, kind: Kind) -> float | None:
    """What a tone counts with: dB, hundredths of the natural logarithm of Hz (percent, near enough), or cents.

    None where it is hidden or was not read.
    """
    if kind in ("level", "witness") and "level_db" in tone.hidden:
        return None
    if kind == "level":
        return tone.level_db
    if kind == "witness":
        return tone.colour.partials_db
    if kind == "pitch":
        return None if "pitch_cents" in tone.hidden else tone.pitch_cents
    if tone.colour.centroid_hz is None or "colour" in tone.hidden:
        return None
    return 100.0 * float(np.log(tone.colour.centroid_hz))


def repeats(tones: Sequence[Tone]) -> tuple[Repeat, ...]:
    """Notes that were passed more than once, the least alike in level first."""
    passes: dict[int, list[Tone]] = {}
    for tone in tones:
        passes.setdefault(tone.written_midi, []).append(tone)
    found = [
        Repeat(
            note,
            tuple(tone.index for tone in played),
            _reach([value_of(tone, "level") for tone in played]),
            _reach([value_of(tone, "colour") for tone in played]),
            _reach([value_of(tone, "pitch") for tone in played]),
        )
        for note, played in sorted(passes.items())
        if len(played) > 1
    ]
    return tuple(sorted(found, key=lambda repeat: -(repeat.level_range_db or 0.0)))


def _reach(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return max(known) - min(known) if len(known) > 1 else None
