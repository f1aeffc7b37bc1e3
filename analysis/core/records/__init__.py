"""The shapes that sound takes on its way from samples to a verdict.

Everything here is frozen and free of people, clocks and Django. Units stand in the names:
cents, dB, seconds, Hz; ``written_…`` is what the player reads, ``sounding_…`` what is heard.
"""

from typing import TYPE_CHECKING

from analysis.core.records.asked import Asked, Dynamic, Request, Shape
from analysis.core.records.beside import Difference, SamePitch
from analysis.core.records.heard import AudioInfo, Frames, Span
from analysis.core.records.report import (
    Attack,
    Capture,
    Caution,
    Colour,
    Course,
    Evenness,
    Hole,
    Measurement,
    Release,
    Repeat,
    ShapeReading,
    Tone,
    Vibrato,
)
from analysis.core.records.verdict import Check, LevelScale, Outcome, Target, Verdict

if TYPE_CHECKING:
    from analysis.core.records.heard import Doubles, Floats

__all__ = [
    "Asked",
    "Attack",
    "AudioInfo",
    "Capture",
    "Caution",
    "Check",
    "Colour",
    "Course",
    "Difference",
    "Doubles",
    "Dynamic",
    "Evenness",
    "Floats",
    "Frames",
    "Hole",
    "LevelScale",
    "Measurement",
    "Outcome",
    "Release",
    "Repeat",
    "Request",
    "SamePitch",
    "Shape",
    "ShapeReading",
    "Span",
    "Target",
    "Tone",
    "Verdict",
    "Vibrato",
]
