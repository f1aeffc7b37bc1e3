"""What lies on a sheet: words, rules and outlines, in millimetres from its upper left corner."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Face = Literal["head", "plain", "strong", "level"]  # level: the head's face, slanted
PT_MM = 25.4 / 72.0
SANS_ADJUST = 1.07  # what base.css makes of the sans faces, so that a page and a PDF come out alike


@dataclass(frozen=True, slots=True)
class Paper:
    key: str
    width_mm: float
    height_mm: float


PAPERS = {  # ISO 216; ANSI/ASME Y14.1
    "a4": Paper("a4", 210.0, 297.0),
    "letter": Paper("letter", 215.9, 279.4),
}


@dataclass(frozen=True, slots=True)
class Words:
    """One line of text; ``y_mm``: its base line. ``size_pt``: height of the face."""

    x_mm: float
    y_mm: float
    text: str
    size_pt: float
    face: Face = "plain"
    anchor: Literal["start", "middle"] = "start"

    @property
    def page_size_mm(self) -> float:
        """The same height where a page's style sheet enlarges the sans faces."""
        return self.size_pt * PT_MM / (SANS_ADJUST if self.face in ("plain", "strong") else 1.0)


@dataclass(frozen=True, slots=True)
class Rule:
    """A straight line, level or upright."""

    from_mm: tuple[float, float]
    to_mm: tuple[float, float]
    width_mm: float

    @property
    def bar_mm(self) -> tuple[float, float, float, float]:
        """The line as a filled bar: left, top, width, height. Browsers print those as thick as they are."""
        (x1, y1), (x2, y2) = self.from_mm, self.to_mm
        half = self.width_mm / 2.0
        if y1 == y2:
            return min(x1, x2), y1 - half, abs(x2 - x1), self.width_mm
        return x1 - half, min(y1, y2), self.width_mm, abs(y2 - y1)


@dataclass(frozen=True, slots=True)
class Outline:
    """A filled path (SVG path data), its origin at ``x_mm``, ``y_mm``; ``scale_x``, ``scale_y``: mm a unit."""

    path: str
    x_mm: float
    y_mm: float
    scale_x: float
    scale_y: float


@dataclass(frozen=True, slots=True)
class Sheet:
    """``title``: what the file and the page are called; ``said``: the sheet in a sentence, for who can't see it."""

    title: str
    said: str
    paper: Paper
    words: tuple[Words, ...]
    rules: tuple[Rule, ...]
    outlines: tuple[Outline, ...]
