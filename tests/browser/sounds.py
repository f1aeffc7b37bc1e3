"""What the microphone hears in the browser tests: synthesised tones, timed as the page counts them."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from pathlib import Path

import numpy as np

from analysis.synthesis import SAMPLE_RATE_HZ, Place, ToneSpec, render, write

LEAD_S = 0.6  # silence that every rendered take begins with
ROOM_DBFS = -75.0
OPENING_S = 0.15  # the moment the microphone needs
COUNT_IN_BEATS, TONE_BEATS, CYCLE_BEATS = 4.0, 7.6, 12.0


def quiet(seconds: float) -> np.ndarray:
    """A quiet room, as a phone hears it."""
    noise = np.random.default_rng(3).normal(0.0, 10 ** (ROOM_DBFS / 20), round(seconds * SAMPLE_RATE_HZ))
    return noise.astype(np.float32)


def played(
    tones: Sequence[tuple[int, str]],
    file: Path,
    *,
    silent: Sequence[int] = (),
    beats_per_minute: int = 60,
    a4_hz: float = 440.0,
) -> Path:
    """Written notes at a level, one a cycle of twelve beats after the count-in. ``silent``: places not played."""
    beat_s = 60 / beats_per_minute
    parts = [quiet(COUNT_IN_BEATS * beat_s + OPENING_S)]
    for place, (written_midi, dynamic) in enumerate(tones):
        parts.append(quiet(CYCLE_BEATS * beat_s) if place in silent else _cycle(written_midi, dynamic, beat_s, a4_hz))
    write(file, np.concatenate(parts), "wav")
    return file


@cache  # tests play the same tones
def _cycle(written_midi: int, dynamic: str, beat_s: float, a4_hz: float) -> np.ndarray:
    spec = ToneSpec(written_midi=written_midi, dynamic=dynamic, seconds=TONE_BEATS * beat_s)  # type: ignore[arg-type]  # a level word
    samples, _ = render([spec], "alto", a4_hz, place=Place(noise_dbfs=ROOM_DBFS))
    sounding = samples[round(LEAD_S * SAMPLE_RATE_HZ) :]
    cycle_s = CYCLE_BEATS * beat_s
    return np.concatenate([sounding, quiet(cycle_s)])[: round(cycle_s * SAMPLE_RATE_HZ)]


def sound_check(file: Path) -> Path:
    """Two seconds of quiet, an easy written G4, the loudest, the softest."""
    specs = [ToneSpec(written_midi=67, dynamic=level, seconds=2.6, gap_s=0.9) for level in ("mf", "fff", "ppp")]
    write(file, np.concatenate([quiet(2.4), render(specs, "alto", place=Place(noise_dbfs=ROOM_DBFS))[0]]), "wav")
    return file
