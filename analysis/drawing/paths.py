"""Small pieces of SVG path data: lines with gaps, bars, and what leaves a band."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

Point = tuple[float, float]


def number(value: float) -> str:
    """One decimal at most: enough for a box of 1000, and half the bytes."""
    rounded = round(value, 1)
    return str(int(rounded)) if rounded == int(rounded) else str(rounded)


def line(points: Sequence[Point]) -> str:
    """``M… L…`` through the points; nothing for fewer than two."""
    if len(points) < 2:
        return ""
    return "M" + "L".join(f"{number(x)} {number(y)}" for x, y in points)


def lines(runs: Iterable[Sequence[Point]]) -> str:
    return "".join(line(run) for run in runs)


def upright(x: float, top: float, ground: float) -> str:
    """One stroke from the ground up."""
    return f"M{number(x)} {number(ground)}V{number(top)}"


def bar(x: float, width: float, top: float, ground: float) -> str:
    """One upright block from the ground up to ``top``."""
    return f"M{number(x)} {number(ground)}V{number(top)}h{number(width)}V{number(ground)}z"


def runs_of(points: Iterable[tuple[float, float | None]]) -> list[list[Point]]:
    """Split at the places without a value."""
    runs: list[list[Point]] = [[]]
    for x, y in points:
        if y is None:
            runs.append([])
        else:
            runs[-1].append((x, y))
    return [run for run in runs if run]


def with_crossings(run: Sequence[Point], *, heights: Sequence[float], places: Sequence[float] = ()) -> list[Point]:
    """The same line with a point wherever it crosses one of the heights or one of the places along x."""
    finer: list[Point] = list(run[:1])
    for (x0, y0), (x1, y1) in pairwise(run):
        cuts = {(h - y0) / (y1 - y0) for h in heights if (y0 - h) * (y1 - h) < 0}
        cuts |= {(p - x0) / (x1 - x0) for p in places if x0 < p < x1}
        finer += [(x0 + cut * (x1 - x0), y0 + cut * (y1 - y0)) for cut in sorted(cuts)]
        finer.append((x1, y1))
    return finer


def outside(run: Sequence[Point], top: float, bottom: float) -> Iterator[tuple[list[Point], float]]:
    """Stretches of a line (with its crossings) above ``top`` or below ``bottom``, each with the edge that it left."""
    for edge, side in ((top, -1), (bottom, 1)):
        stretch: list[Point] = []
        for point in run:
            if side * (point[1] - edge) >= -1e-9:
                stretch.append(point)
                continue
            if _leaves(stretch, edge):
                yield stretch, edge
            stretch = []
        if _leaves(stretch, edge):
            yield stretch, edge


def _leaves(stretch: Sequence[Point], edge: float) -> bool:
    return len(stretch) > 1 and any(abs(y - edge) > 1e-9 for _, y in stretch)


def filled(stretch: Sequence[Point], edge: float) -> str:
    """The area between a stretch and the edge that it left."""
    around = [(stretch[0][0], edge), *stretch, (stretch[-1][0], edge)]
    return line(around) + "z"
