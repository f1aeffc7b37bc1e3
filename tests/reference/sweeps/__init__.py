"""Every sweep there is, in the order of the truth table."""

from __future__ import annotations

from tests.reference.sweep import Sweep
from tests.reference.sweeps import (
    attack,
    codecs,
    colour,
    faults,
    level,
    pitch,
    real,
    run,
    shapes,
    soundfont,
    steadiness,
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
    *(real.SWEEPS if takes() else ()),
)
