"""Two tones held beside each other."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Difference:
    """A number and how far it may be off: one standard deviation."""

    value: float
    error: float


@dataclass(frozen=True, slots=True)
class SamePitch:
    """A partial of a low fingering beside the normally fingered note; differences are partial minus note."""

    overtone_cents: Difference  # against the exact harmonic
    fingered_cents: Difference  # against equal temperament
    between_cents: Difference
    in_tune_cents: float  # what lies between them when both are exactly right
    brightness_pct: Difference | None  # of the centroid; None where a report holds no partials
    tilt_db_per_octave: Difference | None
    odd_even_db: Difference | None
    partials: int  # how many were counted of each
