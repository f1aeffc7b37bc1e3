"""The common time axis of a tone's two strips: beats from left to right over a box 1000 wide."""

from __future__ import annotations

import math
from dataclasses import dataclass

BOX = 1000.0
SHORTEST_FLAG_BEATS = 0.4  # narrower than this, "here" would hide what it points at

Stakes = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Axis:
    """Take seconds to x, x to beats."""

    from_s: float
    beat_s: float
    beats: int

    @property
    def beat_width(self) -> float:
        return BOX / self.beats

    def x(self, at_s: float) -> float:
        return (at_s - self.from_s) / self.beat_s * self.beat_width

    def beat_at(self, x: float) -> int:
        """Counted from 1, as players count."""
        return min(self.beats, max(1, int(x / self.beat_width) + 1))


def axis_of(from_s: float, end_s: float, beat_s: float, beats: int) -> Axis:
    """The asked beats, or as many as a longer tone fills."""
    sounding = (end_s - from_s) / beat_s
    return Axis(from_s, beat_s, beats if sounding <= beats + 0.5 else math.ceil(sounding))


def stakes_of(axis: Axis, flagged: tuple[float, float] | None) -> Stakes | None:
    """Where the two stakes stand about the flagged stretch (take seconds): inside the box and never too close."""
    if flagged is None:
        return None
    start, end = (min(BOX, max(0.0, axis.x(at_s))) for at_s in flagged)
    least = SHORTEST_FLAG_BEATS * axis.beat_width
    if end - start < least:
        start = min(max(0.0, (start + end - least) / 2), BOX - least)
        end = start + least
    return round(start, 1), round(end, 1)
