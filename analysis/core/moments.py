"""Where in a tone to listen: stretches of its course in take seconds, always long enough to hear."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.records import Tone

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles

    Flags = NDArray[np.bool_]

SHORTEST_S = 0.6
SMOOTH_S = 0.2
WINDOW_S = 1.0
BRIDGED_S = 0.3  # a pitch that comes back for a moment and leaves again is one stretch

Stretch = tuple[float, float]


def cents(tone: Tone) -> Doubles:
    """Smoothed pitch of the steady part against the tone's target, NaN outside it and where none was read."""
    values = np.array([np.nan if value is None else value for value in tone.course.cents], dtype=np.float64)
    times_s = tone.start_s + np.arange(len(values)) * tone.course.step_s
    values[(times_s < tone.steady_start_s) | (times_s > tone.steady_end_s)] = np.nan
    known = np.isfinite(values)
    width = max(1, round(SMOOTH_S / tone.course.step_s))
    if not np.any(known) or len(values) < width:
        return values
    kernel = np.ones(width)
    weight = np.convolve(known.astype(np.float64), kernel, mode="same")
    total = np.convolve(np.where(known, values, 0.0), kernel, mode="same")
    return np.where(known, total / np.maximum(weight, 1.0), np.nan)


def beyond(tone: Tone, middle_cents: float, limit_cents: float) -> tuple[Stretch, float] | None:
    """The longest stretch with the pitch further than ``limit_cents`` from ``middle_cents``, and its mean distance."""
    away = cents(tone) - middle_cents
    out = np.abs(away) > limit_cents  # NaN compares as inside
    found = _longest(out, round(BRIDGED_S / tone.course.step_s))
    if found is None:
        return None
    part = away[found[0] : found[1]]
    return _stretch(tone, *found), float(np.nanmean(part))


def most_moved(tone: Tone, values: Doubles) -> tuple[Stretch, float] | None:
    """The second in which ``values`` (one a step of the course) stray most from their line, and how far on average."""
    known = np.isfinite(values)
    width = round(WINDOW_S / tone.course.step_s)
    if np.count_nonzero(known) < max(width, 4):
        return None
    steps = np.arange(len(values), dtype=np.float64)
    line = np.polyfit(steps[known], values[known], 1)
    away = np.where(known, values - np.polyval(line, steps), 0.0)
    strength = np.convolve(np.square(away), np.ones(width), mode="valid")
    first = int(np.argmax(strength))
    return _stretch(tone, first, first + width), float(np.mean(away[first : first + width]))


def levels(tone: Tone) -> Doubles:
    """Levels of the steady part in dB, NaN outside it."""
    values = np.array(tone.course.level_db, dtype=np.float64)
    times_s = tone.start_s + np.arange(len(values)) * tone.course.step_s
    values[(times_s < tone.steady_start_s) | (times_s > tone.steady_end_s)] = np.nan
    return values


def last_part(tone: Tone) -> Stretch:
    """The last third of the steady part: where a drift has gone furthest."""
    length_s = tone.steady_end_s - tone.steady_start_s
    return tone.steady_end_s - max(SHORTEST_S, length_s / 3.0), tone.steady_end_s


def first_part(tone: Tone) -> Stretch:
    """The start with what comes before it."""
    return max(0.0, tone.start_s - 0.3 - (tone.attack.air_before_s or 0.0)), min(tone.end_s, tone.start_s + 0.7)


def end_part(tone: Tone) -> Stretch:
    """The stop with what comes after it."""
    return max(tone.start_s, tone.end_s - 0.8), tone.end_s + 0.3


def around(tone: Tone, at_s: float) -> Stretch:
    """Half a second either side of a moment."""
    return max(0.0, at_s - 0.5), min(tone.end_s, at_s + 0.5)


def _stretch(tone: Tone, first: int, last: int) -> Stretch:
    """Steps of the course as take seconds, widened to what can be heard."""
    from_s, to_s = tone.start_s + first * tone.course.step_s, tone.start_s + last * tone.course.step_s
    short_s = max(0.0, SHORTEST_S - (to_s - from_s))
    return max(tone.start_s, from_s - short_s / 2.0), min(tone.end_s, to_s + short_s / 2.0)


def _longest(flags: Flags, bridged: int) -> tuple[int, int] | None:
    """The longest run of flags, short holes bridged: first and last + 1."""
    places = np.flatnonzero(flags)
    if not len(places):
        return None
    breaks = np.flatnonzero(np.diff(places) > bridged + 1)
    firsts = np.concatenate([[places[0]], places[breaks + 1]])
    lasts = np.concatenate([places[breaks], [places[-1]]])
    longest = int(np.argmax(lasts - firsts))
    return int(firsts[longest]), int(lasts[longest]) + 1
