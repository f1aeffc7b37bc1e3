"""The strokes of a tone's level, standing on the ground, and the board that they should reach.

The player's softest reaches 0.40 of the zone and the loudest 0.92, so that soft tones can still be read.
"""

from __future__ import annotations

import math
import statistics
from collections.abc import Sequence
from typing import get_args

from analysis.core.records import Dynamic, LevelScale, Shape, Tone
from analysis.drawing import paths
from analysis.drawing.axis import BOX, Axis, Stakes

LEVEL_ZONE = 450.0
SOFTEST_HEIGHT, LOUDEST_HEIGHT = 0.40, 0.92
LEAST_HEIGHT, MOST_HEIGHT = 0.03, 1.0
STROKES_PER_BEAT, MOST_STROKES = 10, 100
UNSCALED_SPAN_DB = 28.0  # eight levels, 4 dB apart: where the player's own scale isn't known
SHAPED_AT_LEAST_DB = 6.0  # an unscaled shape with less range is drawn like a plain tone, or noise would fill the zone
DYNAMICS: tuple[Dynamic, ...] = get_args(Dynamic)


def board(shape: Shape, dynamic: Dynamic = "mf", steps: int = 8) -> str:
    """Path data of the line to reach: level, rising, falling, peaked, dipped or terraced."""
    if shape == "stepped":
        low, high = _y(SOFTEST_HEIGHT), _y(LOUDEST_HEIGHT)
        terraces = [(i / steps * BOX, low + (high - low) * i / (steps - 1)) for i in range(steps)]
        return "".join(f"M{paths.number(x)} {paths.number(y)}h{paths.number(BOX / steps)}" for x, y in terraces)
    start, middle, end = _corners(shape, dynamic)
    return paths.line([(0.0, start), (BOX / 2, middle), (BOX, end)])


def sides(shape: Shape, dynamic: Dynamic = "mf") -> str:
    """Path data of the two posts that carry the board's ends."""
    start, _, end = _corners("crescendo" if shape == "stepped" else shape, dynamic)
    return f"M0 1000V{paths.number(start)}M1000 1000V{paths.number(end)}"


def _corners(shape: Shape, dynamic: Dynamic) -> tuple[float, float, float]:
    low, high, flat = _y(SOFTEST_HEIGHT), _y(LOUDEST_HEIGHT), _y(height_of(dynamic))
    return {
        "crescendo": (low, (low + high) / 2, high),
        "decrescendo": (high, (low + high) / 2, low),
        "swell": (low, high, low),
        "reverse_swell": (high, low, high),
    }.get(shape, (flat, flat, flat))


def height_of(dynamic: Dynamic) -> float:
    """Part of the zone that a level reaches, *ppp* to *fff*."""
    return SOFTEST_HEIGHT + (LOUDEST_HEIGHT - SOFTEST_HEIGHT) * DYNAMICS.index(dynamic) / (len(DYNAMICS) - 1)


def heights(levels_db: Sequence[float], shape: Shape, dynamic: Dynamic, scale: LevelScale | None) -> list[float]:
    """Part of the zone for each reading (dB)."""
    if not levels_db:
        return []
    own = scale or _own_scale(levels_db, shape, dynamic)
    per_db = (LOUDEST_HEIGHT - SOFTEST_HEIGHT) / max(1.0, own.loudest_db - own.softest_db)
    raw = (SOFTEST_HEIGHT + (level - own.softest_db) * per_db for level in levels_db)
    return [min(MOST_HEIGHT, max(LEAST_HEIGHT, height)) for height in raw]


def strokes(tone: Tone, axis: Axis, readings: Sequence[float], stakes: Stakes | None) -> tuple[str, str]:
    """Path data of the plain strokes and of the flagged ones; ``readings`` are heights along the tone's course."""
    count = axis.beats * max(2, min(STROKES_PER_BEAT, MOST_STROKES // axis.beats))
    room = BOX / count
    gathered: dict[int, list[float]] = {}
    for i, height in enumerate(readings):
        place = math.floor(axis.x(tone.start_s + (i + 0.5) * tone.course.step_s) / room)
        if 0 <= place < count:
            gathered.setdefault(place, []).append(height)
    drawn: tuple[list[str], list[str]] = ([], [])
    for place, found in sorted(gathered.items()):
        middle = (place + 0.5) * room
        flagged = stakes is not None and stakes[0] <= middle <= stakes[1]
        drawn[flagged].append(paths.upright(middle, _y(statistics.fmean(found)), BOX))
    return "".join(drawn[False]), "".join(drawn[True])


def _y(height: float) -> float:
    return BOX - height * LEVEL_ZONE


def _own_scale(levels_db: Sequence[float], shape: Shape, dynamic: Dynamic) -> LevelScale:
    """A plain tone's middle lies on its board, a shape fills the zone."""
    low, *_, high = statistics.quantiles(levels_db, n=20) if len(levels_db) > 1 else (levels_db[0], levels_db[0])
    if shape not in ("sustained", "evenness") and high - low >= SHAPED_AT_LEAST_DB:
        return LevelScale(softest_db=low, loudest_db=high)
    below_db = UNSCALED_SPAN_DB * DYNAMICS.index(dynamic) / (len(DYNAMICS) - 1)
    softest_db = statistics.median(levels_db) - below_db
    return LevelScale(softest_db=softest_db, loudest_db=softest_db + UNSCALED_SPAN_DB)
