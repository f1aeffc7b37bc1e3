"""Tones to be drawn: a course of pitch and level, the rest of the report left as plain as it may be."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence

from analysis.core.records import Attack, Colour, Course, Release, ShapeReading, Target, Tone, Vibrato

STEP_S = 0.02


def target(pitch_cents: float = 10.0, note_offset_cents: float = 0.0) -> Target:
    """Limits of which only the two that are drawn matter."""
    fields = {field.name: 1.0 for field in dataclasses.fields(Target)}
    return Target(**(fields | {"pitch_cents": pitch_cents, "note_offset_cents": note_offset_cents}))


def tone(
    cents: Callable[[float], float | None] = lambda at_s: 0.0,
    level_db: Callable[[float], float] = lambda at_s: -26.0,
    *,
    start_s: float = 3.0,
    lasts_s: float = 8.0,
    written_midi: int = 73,
    index: int = 0,
    reasons: Sequence[str] = (),
) -> Tone:
    """``cents`` and ``level_db`` are functions of the seconds since the tone began."""
    times = [i * STEP_S for i in range(round(lasts_s / STEP_S))]
    return Tone(
        index=index,
        start_s=start_s,
        end_s=start_s + lasts_s,
        written="C#5",
        written_midi=written_midi,
        sounding_midi=written_midi - 9,
        expected=True,
        asked_index=index,
        partial=None,
        readable=not reasons,
        reasons=tuple(reasons),
        f0_hz=329.6,
        pitch_cents=0.0,
        pitch_spread_cents=1.0,
        pitch_drift_cents=0.0,
        level_db=-26.0,
        level_spread_db=0.3,
        level_drift_db_per_s=0.0,
        vibrato=Vibrato(present=False),
        attack=Attack(),
        release=Release(),
        hnr_db=20.0,
        colour=Colour(),
        shape=ShapeReading("sustained"),
        course=Course(STEP_S, tuple(cents(t) for t in times), tuple(level_db(t) for t in times)),
        steady_start_s=start_s + 0.3,
        steady_end_s=start_s + lasts_s - 0.3,
    )


def between(start_s: float, end_s: float, inside: float, outside: float = 0.0) -> Callable[[float], float]:
    """A course that is ``inside`` from one second to another."""
    return lambda at_s: inside if start_s <= at_s < end_s else outside
