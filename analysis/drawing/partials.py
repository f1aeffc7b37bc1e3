"""The partials of two tones beside each other, as upright strokes on one ground."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

DEPTH_DB = 50.0  # under the loudest of its own tone a partial is not drawn
BESIDE = 0.16  # of the way to the next partial, on either side of its place


@dataclass(frozen=True, slots=True)
class Partials:
    """Paths in a box of 1000 by 1000, and the places of the numbers in per cent of its width."""

    first: str
    second: str
    feet: tuple[tuple[int, float], ...]  # (number of the partial, where)


def partials(first_db: Sequence[float], second_db: Sequence[float]) -> Partials:
    """Levels of partials 1, 2, 3 … of two tones, each against its own loudest; as many as both have."""
    both = min(len(first_db), len(second_db))
    step = 1000.0 / max(1, both)
    middles = [(place + 0.5) * step for place in range(both)]
    return Partials(
        first=_strokes(first_db[:both], [x - BESIDE * step for x in middles]),
        second=_strokes(second_db[:both], [x + BESIDE * step for x in middles]),
        feet=tuple((place + 1, round(x / 10.0, 1)) for place, x in enumerate(middles) if place % 4 == 0),
    )


def _strokes(levels_db: Sequence[float], at: Sequence[float]) -> str:
    top_db = max(levels_db, default=0.0)
    heights = [max(0.0, 1.0 + (level - top_db) / DEPTH_DB) for level in levels_db]
    return "".join(f"M{x:.0f} 1000V{1000 * (1 - high):.0f}" for x, high in zip(at, heights, strict=True) if high > 0.0)
