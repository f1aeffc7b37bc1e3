"""The string of a tone's pitch: the allowance is a shade about it, and what leaves the shade is filled."""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

from analysis.core.records import Target, Tone
from analysis.drawing import paths
from analysis.drawing.axis import BOX, Axis, Stakes

STRING_Y = 300.0
ALLOWANCE_HEIGHT = 58.0
ALLOWANCES_SHOWN = 3.0  # further out lies on the edge
POINTS = 130
BARE_ALLOWANCE_CENTS = 10.0  # sets the scale where there is no target
PART_OF_BEAT_OUTSIDE = 0.25  # a beat is named when the string is outside for at least this part of it


@dataclass(frozen=True, slots=True)
class PitchString:
    """Path data: the string, and the areas between it and the shade it left, flagged or not."""

    string: str
    outside: str
    outside_here: str
    beats_outside: tuple[int, ...]


def pitch_string(tone: Tone, axis: Axis, target: Target | None, stakes: Stakes | None) -> PitchString:
    runs = paths.runs_of(_points(tone, axis, target))
    if target is None:
        return PitchString(paths.lines(runs), "", "", ())
    top, bottom = STRING_Y - ALLOWANCE_HEIGHT, STRING_Y + ALLOWANCE_HEIGHT
    places = [*(stakes or ()), *(beat * axis.beat_width for beat in range(1, axis.beats))]
    areas: tuple[list[str], list[str]] = ([], [])
    wide_by_beat = [0.0] * (axis.beats + 1)
    for run in runs:
        finer = paths.with_crossings(run, heights=(top, bottom), places=places)
        for stretch, edge in paths.outside(finer, top, bottom):
            for (x0, _), (x1, _) in pairwise(stretch):
                wide_by_beat[axis.beat_at((x0 + x1) / 2)] += x1 - x0
            for part, flagged in _split(stretch, stakes):
                areas[flagged].append(paths.filled(part, edge))
    enough = PART_OF_BEAT_OUTSIDE * axis.beat_width
    return PitchString(
        string=paths.lines(runs),
        outside="".join(areas[False]),
        outside_here="".join(areas[True]),
        beats_outside=tuple(beat for beat, wide in enumerate(wide_by_beat) if wide >= enough),
    )


def _points(tone: Tone, axis: Axis, target: Target | None) -> list[tuple[float, float | None]]:
    """Medians of a few readings each: the string is calm and a slide still shows. None where no pitch was read."""
    allowance = target.pitch_cents if target else BARE_ALLOWANCE_CENTS
    centre = target.note_offset_cents if target else 0.0
    cents = tone.course.cents
    size = max(1, math.ceil(len(cents) / POINTS))
    points: list[tuple[float, float | None]] = []
    for first in range(0, len(cents), size):
        x = axis.x(tone.start_s + (first + size / 2) * tone.course.step_s)
        if not 0 <= x <= BOX:
            continue
        read = [c for c in cents[first : first + size] if c is not None and math.isfinite(c)]
        points.append((x, _height((statistics.median(read) - centre) / allowance) if read else None))
    return points


def _height(allowances: float) -> float:
    return STRING_Y - min(ALLOWANCES_SHOWN, max(-ALLOWANCES_SHOWN, allowances)) * ALLOWANCE_HEIGHT


def _split(stretch: Sequence[paths.Point], stakes: Stakes | None) -> list[tuple[Sequence[paths.Point], bool]]:
    """The parts before, between and behind the stakes; the line already has points at the stakes."""
    if stakes is None:
        return [(stretch, False)]
    before = [p for p in stretch if p[0] <= stakes[0]]
    between = [p for p in stretch if stakes[0] <= p[0] <= stakes[1]]
    behind = [p for p in stretch if p[0] >= stakes[1]]
    return [(part, part is between) for part in (before, between, behind) if len(part) > 1]
