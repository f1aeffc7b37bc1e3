"""Every sweep there is, in the order of the truth table."""

from __future__ import annotations

from tests.reference.sweep import Sweep
from tests.reference.sweeps import (
    another_player,
    attack,
    capture,
    codecs,
    colour,
    faults,
    hum,
    level,
    pitch,
    real,
    run,
    shapes,
    soundfont,
    steadiness,
    strokes,
    vibrato,
)
from tests.reference.takes import takes

ALL: tuple[Sweep, ...] = (
    *pitch.SWEEPS,
    *steadiness.SWEEPS,
    *level.SWEEPS,
    *attack.SWEEPS,
    *vibrato.SWEEPS,
    *colour.SWEEPS,
    *shapes.SWEEPS,
    *run.SWEEPS,
    *codecs.SWEEPS,
    *soundfont.SWEEPS,
    *faults.SWEEPS,
    *strokes.SWEEPS,
    *another_player.SWEEPS,
    *capture.SWEEPS,
    *hum.SWEEPS,
    *((*real.SWEEPS, *capture.OF_REAL, *another_player.OF_REAL) if takes() else ()),
)
