"""One number against its limit: met, missed, or nearer to the limit than the reading can tell."""

from __future__ import annotations

import math

from analysis.core.records import Check, Tone


def against(
    measure: str,
    part: str,
    value: float | None,
    limit: float,
    *,
    error: float = 0.0,
    must: bool = True,
    code: str,
    at_s: tuple[float, float] | None = None,
    at_least: bool = False,
    noise_adds: bool = False,
) -> Check:
    """A check that ``value`` is at most ``limit`` (``at_least``: at least).

    ``error`` is one standard deviation of the reading: nearer to the limit than that is "unsure". ``noise_adds``: what
    spoils the reading can only have made it larger, so a value within its limit is met all the more. No value:
    "not_measured". Only a miss has a ``code`` and a place.
    """
    if value is None or not math.isfinite(value):
        return Check(measure, "not_measured", must, value, limit, part=part)
    within = value >= limit if at_least else value <= limit
    if abs(value - limit) < error and not (within and noise_adds):
        return Check(measure, "unsure", must, value, limit, part=part)
    if within:
        return Check(measure, "met", must, value, limit, part=part)
    return Check(measure, "missed", must, value, limit, code, at_s, part)


def flag(
    measure: str,
    part: str,
    fault: bool,
    *,
    must: bool = True,
    code: str,
    at_s: tuple[float, float] | None = None,
) -> Check:
    """A check of something that is there or not, such as a crack."""
    if fault:
        return Check(measure, "missed", must, code=code, at_s=at_s, part=part)
    return Check(measure, "met", must, part=part)


def hidden(measure: str, part: str, must: bool = True) -> Check:
    """A check that could not be made because something spoiled its measure and nothing else."""
    return Check(measure, "not_measured", must, part=part)


def error_of(tone: Tone, part: str) -> float:
    """One standard deviation of a field of ``tone``; 0 where none is known."""
    return float(tone.uncertainty.get(part, 0.0))
