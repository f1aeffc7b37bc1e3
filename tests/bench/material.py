"""Takes to measure by the clock, made by the project's own generator: even tones, breaths, a little room and noise."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import numpy as np

from analysis.synthesis import SAMPLE_RATE_HZ, Faults, Place, Room, ToneSpec, render, write


@cache
def five_minutes() -> np.ndarray:
    specs = [
        ToneSpec(
            written_midi=58 + i % 33,
            seconds=4.0,
            gap_s=0.9,
            breath=True,
            faults=Faults(unsteady_cents=1.5, level_unsteady_db=0.4, vibrato_cents=20.0 * (i % 3 == 0), hnr_db=30.0),
        )
        for i in range(61)
    ]
    samples, _ = render(specs, "alto", seed=1, place=Place(room=Room(direct_to_reverberant_db=8), noise_dbfs=-68))
    return samples[: 300 * SAMPLE_RATE_HZ]


def take(folder: Path, seconds: int, codec: str = "m4a") -> Path:
    """A take of exactly that length; written once."""
    path = folder / f"{seconds}s.{codec}"
    if not path.exists():
        write(path, _pieces(seconds), codec)  # type: ignore[arg-type] # the names of analysis.synthesis.Codec
    return path


def _pieces(seconds: int) -> Iterator[np.ndarray]:
    left = seconds * SAMPLE_RATE_HZ
    while left > 0:
        piece = five_minutes()[:left]
        yield piece
        left -= len(piece)
