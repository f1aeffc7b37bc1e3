"""A section's pitch: a row a voice, all on one scale, so that what lies apart is seen at once.

Rows are given in per cent of the picture from left (lower) to right (higher); the string, where everybody should lie,
stands in its middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

STRING_X = 50.0
LEAST_SHOWN_CENTS = 25.0  # to either side
EDGE = 4.0  # per cent kept free beside the furthest voice
LEAST_WIDTH = 1.6  # of a voice's bar: it is seen however surely it was read


@dataclass(frozen=True, slots=True)
class VoiceRow:
    """One voice: its bar reaches as far as it may be off either way. ``just_x``: where a pure interval would lie."""

    x: float
    width: float
    just_x: float | None


@dataclass(frozen=True, slots=True)
class SectionDrawing:
    rows: tuple[VoiceRow | None, ...]  # by seat; None: nothing was recorded
    string_x: float
    shade_x: float
    shade_width: float


def section(
    voices: Sequence[tuple[float, float, float] | None], *, allowance_cents: float, sure: float = 2.0
) -> SectionDrawing:
    """``voices``: cents against equal temperament, their error (one standard deviation), a pure interval's cents.

    ``allowance_cents``: the shade to either side of the string.
    """
    furthest = max((abs(cents) + sure * error for cents, error, _just in filter(None, voices)), default=0.0)
    shown = max(LEAST_SHOWN_CENTS, furthest)
    scale = (STRING_X - EDGE) / shown
    return SectionDrawing(
        rows=tuple(_row(voice, scale, sure) if voice else None for voice in voices),
        string_x=STRING_X,
        shade_x=round(STRING_X - allowance_cents * scale, 2),
        shade_width=round(2 * allowance_cents * scale, 2),
    )


def _row(voice: tuple[float, float, float], scale: float, sure: float) -> VoiceRow:
    cents, error, just_cents = voice
    width = max(LEAST_WIDTH, 2 * sure * error * scale)
    pure = round(STRING_X + just_cents * scale, 2) if just_cents else None
    return VoiceRow(x=round(STRING_X + cents * scale - width / 2, 2), width=round(width, 2), just_x=pure)
