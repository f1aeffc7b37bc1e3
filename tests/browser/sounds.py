"""What the microphone hears in the browser tests: synthesised tones, timed as the page counts them."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from analysis.synthesis import SAMPLE_RATE_HZ, Place, ToneSpec, render, write

LEAD_S = 0.6  # silence that every rendered take begins with
ROOM_DBFS = -75.0
COUNT_IN_S = 4.15  # four beats, and the moment the microphone needs to open
TONE_S, CYCLE_S = 7.6, 12.0


def quiet(seconds: float) -> np.ndarray:
    """A quiet room, as a phone hears it."""
    noise = np.random.default_rng(3).normal(0.0, 10 ** (ROOM_DBFS / 20), round(seconds * SAMPLE_RATE_HZ))
    return noise.astype(np.float32)


def played(tones: Sequence[tuple[int, str]], file: Path, *, silent: Sequence[int] = ()) -> Path:
    """Written notes at a level, one a cycle of twelve beats after the count-in. ``silent``: places not played."""
    parts = [quiet(COUNT_IN_S)]
    for place, (written_midi, dynamic) in enumerate(tones):
        parts.append(quiet(CYCLE_S) if place in silent else _cycle(written_midi, dynamic))
    write(file, np.concatenate(parts), "wav")
    return file


def _cycle(written_midi: int, dynamic: str) -> np.ndarray:
    spec = ToneSpec(written_midi=written_midi, dynamic=dynamic, seconds=TONE_S)  # type: ignore[arg-type]  # a level word
    samples, _ = render([spec], "alto", place=Place(noise_dbfs=ROOM_DBFS))
    sounding = samples[round(LEAD_S * SAMPLE_RATE_HZ) :]
    return np.concatenate([sounding, quiet(CYCLE_S)])[: round(CYCLE_S * SAMPLE_RATE_HZ)]


def sound_check(file: Path) -> Path:
    """Two seconds of quiet, an easy written G4, the loudest, the softest."""
    specs = [ToneSpec(written_midi=67, dynamic=level, seconds=2.6, gap_s=0.9) for level in ("mf", "fff", "ppp")]
    write(file, np.concatenate([quiet(2.4), render(specs, "alto", place=Place(noise_dbfs=ROOM_DBFS))[0]]), "wav")
    return file
