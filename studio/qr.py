"""A QR code as one outline, to be drawn by a template: no image file, and nothing from elsewhere."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby

import segno

QUIET = 4  # modules of empty paper around it, as ISO/IEC 18004 asks


@dataclass(frozen=True, slots=True)
class Drawn:
    """``size``: width and height in modules, margin included; ``path``: the dark ones, row by row."""

    size: int
    path: str


def drawn(text: str) -> Drawn:
    """``text`` as a QR code that stays readable with an eighth of it worn off (level M)."""
    rows = [list(row) for row in segno.make(text, error="m", micro=False).matrix]
    return Drawn(len(rows) + 2 * QUIET, "".join(_row(y + QUIET, row) for y, row in enumerate(rows)))


def _row(y: int, row: list[int]) -> str:
    path, x = "", QUIET
    for dark, run in groupby(row):
        width = len(list(run))
        if dark:
            path += f"M{x} {y}h{width}v1h-{width}z"
        x += width
    return path
