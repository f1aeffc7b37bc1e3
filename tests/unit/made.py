"""Frames, spans and tones made by hand, so that each measure can be asked about something known exactly."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.core.records import (
    Attack,
    Capture,
    Colour,
    Course,
    Frames,
    Release,
    ShapeReading,
    Span,
    Tone,
    Vibrato,
)

Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]

HOP_S, BLOCK_S = 0.01, 0.005
F0_HZ = 220.0
SAWTOOTH = 1.0 / np.arange(1, 21)


def steady(value: float = 0.0) -> Curve:
    return lambda t_s: np.full(len(t_s), value)


def frames(
    seconds: float = 5.0,
    *,
    starts_s: float = 1.0,
    ends_s: float = 4.0,
    f0_hz: float = F0_HZ,
    cents: Curve | None = None,
    level_db: Curve | None = None,
    amplitudes: Sequence[float] | NDArray[np.float64] = SAWTOOTH,
    floor_db: float = -80.0,
    noise_db: float = -60.0,
    before: Curve | None = None,
) -> Frames:
    """A take of one tone between two times. Curves run over seconds since its start; ``noise_db`` lies inside the tone.

    ``before``: level in dB of what sounds outside the tone, over take seconds; without it the floor.
    """
    cents = cents or steady(0.0)
    level_db = level_db or steady(-20.0)
    frame_s = np.arange(round(seconds / HOP_S) + 1) * HOP_S
    block_s = (np.arange(round(seconds / BLOCK_S)) + 0.5) * BLOCK_S
    outside = before or steady(floor_db)

    def power(t_s: NDArray[np.float64]) -> NDArray[np.float64]:
        inside = (t_s >= starts_s) & (t_s <= ends_s)
        tone = np.where(inside, 10.0 ** (level_db(t_s - starts_s) / 10.0), 0.0)
        return tone + 10.0 ** (outside(t_s) / 10.0)

    sounds = (frame_s >= starts_s) & (frame_s <= ends_s)
    tonal = np.where(sounds, 10.0 ** (level_db(frame_s - starts_s) / 10.0), 1e-12)
    shares = np.square(np.pad(np.asarray(amplitudes, dtype=np.float64), (0, 20))[:20])
    partials = tonal[:, None] * shares / shares.sum()
    plain = power(block_s)
    return Frames(
        lowest_hz=138.59,
        hop_s=HOP_S,
        f0_hz=f0_hz * 2.0 ** (np.where(sounds, cents(frame_s - starts_s), 431.0) / 1200.0),
        spread_cents=np.where(sounds, 0.5, 90.0).astype(np.float32),
        prominence_db=np.where(sounds, 40.0, 3.0).astype(np.float32),
        tonal_power=tonal.astype(np.float32),
        noise_power=np.full(len(frame_s), 10.0 ** (noise_db / 10.0), dtype=np.float32),
        partials=partials.astype(np.float32),
        bands=np.full((len(frame_s) // 8, 8), 1e-9, dtype=np.float32),
        other_hz=np.zeros(len(frame_s) // 16, dtype=np.float32),
        other_power=np.zeros(len(frame_s) // 16, dtype=np.float32),
        block_s=BLOCK_S,
        plain_power=plain,
        weighted_power=plain.copy(),
    )


def span(starts_s: float = 1.0, ends_s: float = 4.0, **more: object) -> Span:
    return replace(Span(starts_s, ends_s, starts_s + 0.2, ends_s - 0.1, floor_power=1e-8), **more)


def tone(**more: object) -> Tone:
    """A written C5 of four seconds in which nothing is amiss, but for what is said otherwise."""
    start_s, end_s, step_s = 1.0, 5.0, 0.02
    count = round((end_s - start_s) / step_s)
    plain = Tone(
        index=0,
        start_s=start_s,
        end_s=end_s,
        written="C5",
        written_midi=72,
        sounding_midi=63,
        expected=True,
        asked_index=0,
        partial=None,
        readable=True,
        reasons=(),
        f0_hz=311.13,
        pitch_cents=0.0,
        pitch_spread_cents=1.0,
        pitch_drift_cents=0.0,
        level_db=-22.0,
        level_spread_db=0.2,
        level_drift_db_per_s=0.0,
        vibrato=Vibrato(present=False),
        attack=Attack(rise_s=0.03, scoop_cents=-2.0, settle_s=0.05, air_before_s=0.0, accent_db=0.3),
        release=Release(kind="tapered", sag_cents=-1.0, fall_s=0.1),
        hnr_db=30.0,
        colour=Colour(900.0, 2.9, -8.0, 1.0, 20, 8000.0, -30.0),
        shape=ShapeReading("sustained"),
        course=Course(step_s, (0.0,) * count, (-22.0,) * count),
        steady_start_s=start_s + 0.2,
        steady_end_s=end_s - 0.1,
        uncertainty={"pitch_cents": 0.1, "pitch_spread_cents": 0.1, "rise_s": 0.005},
    )
    return replace(plain, **more)


QUIET = Capture(noise_floor_dbfs=-75.0, snr_db=50.0, clipped=False, level_control_suspected=False, readable=True)
