"""Shapes of level: crescendo, decrescendo, swell, reverse swell, stepped.

The course is the K-weighted level in 100 ms windows (ungated: a gate would throw the soft ends away), less what the
room's own noise adds. A line may be straight in dB or in loudness (2^(L/10), sones over 40 phon): singers' swells are
straighter in loudness, so the better of the two counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.level import OFFSET_DB, blocks_between, level_course
from analysis.core.lines import r_squared, through
from analysis.core.records import Frames, Shape, ShapeReading, Span, Target
from analysis.core.shape_limits import LISTEN_S, faults, heard_at
from analysis.core.spectrum import frames_between
from analysis.core.steps import terraces
from analysis.core.targets import target_for
from analysis.core.units import cents_between, decibels, median, percentiles

if TYPE_CHECKING:
    from analysis.core.records import Doubles

WINDOW_S, STEP_S = 0.1, 0.025
TERRACE_WINDOW_S = 0.05  # sharper, so that a ramp of 40 ms does not blur into the plateaus
FRONT_S, BACK_S = 0.03, 0.03  # the attack and the stop themselves are not the shape
END_S = 0.5  # the ends' levels are read from a line over this much
SMOOTH = np.hanning(11)[1:-1] / np.hanning(11).sum()  # nine points, for the place of the peak
# Five, for moves against the line: a short dip must not be smoothed away.
BACK_SMOOTH = np.hanning(7)[1:-1] / np.hanning(7).sum()
SURE_SPREAD_CENTS, TONAL_DB = 60.0, 11.0
PITCH_FRAMES = 35  # what moves faster than this is the lip's tremble, not the shape's
SHORTEST_S = 1.0
LEAST_POINTS = 4  # for a line
# One standard deviation on swells and terraces of known shape, dry; a room adds its own (room.py).
ERRORS_OF_LINES = {
    "range_db": 0.4,
    "peak_at": 0.01,
    "ends_differ_db": 0.2,
    "worst_backwards_db": 0.15,
    "rise_db_per_s": 0.05,
    "fall_db_per_s": 0.05,
    "slope_ratio": 0.05,
    "straightness": 0.005,
    "pitch_range_cents": 0.5,
}
ERRORS_OF_STEPS = {
    "range_db": 0.2,
    "steps_db": 0.1,
    "step_share": 0.04,
    "slide_share": 0.03,
    "pitch_range_cents": 0.5,
}


def read(
    kind: Shape,
    frames: Frames,
    span: Span,
    f0_hz: float,
    *,
    steps_expected: int | None = None,
    limits: Target | None = None,
) -> tuple[ShapeReading, dict[str, float]]:
    """One tone of ``f0_hz`` as the shape ``kind``, and one standard deviation of its numbers.

    ``met`` is against ``limits``, without them those of an intermediate player. Plain tones have no shape to meet:
    None.
    """
    times_s, level_db = _course(frames, span, TERRACE_WINDOW_S if kind == "stepped" else WINDOW_S)
    if len(level_db) < SHORTEST_S / STEP_S:
        return ShapeReading(kind), {}
    if kind in ("sustained", "evenness"):
        low, high = percentiles(level_db, 2.5, 97.5)
        return ShapeReading(kind, range_db=high - low), {}
    if kind == "stepped":
        reading = _stepped(times_s, level_db, steps_expected)
        reading = replace(reading, pitch_range_cents=_pitch_range(frames, span, f0_hz))
    else:
        reading = _line(kind, span, times_s, level_db)
        reading = replace(reading, pitch_range_cents=_pitch_range(frames, span, f0_hz))
    against = limits or target_for("intermediate", 72, kind, lowest=58, highest=90)
    found = faults(reading, against)
    at_s = heard_at(reading, found[0].part, span.start_s, span.end_s) if found else reading.at_s
    return replace(reading, met=not found, at_s=at_s), dict(ERRORS_OF_STEPS if kind == "stepped" else ERRORS_OF_LINES)


def _course(frames: Frames, span: Span, window_s: float) -> tuple[Doubles, Doubles]:
    """Times and K-weighted levels from start to stop, the room's noise taken off."""
    times_s, level_db = level_course(frames, span.start_s + FRONT_S, span.end_s - BACK_S, window_s, STEP_S)
    floor = _weighted_floor(frames, span)
    power = 10.0 ** ((level_db - OFFSET_DB) / 10.0)
    return times_s, OFFSET_DB + decibels(np.maximum(power - floor, 0.25 * floor))


def _weighted_floor(frames: Frames, span: Span) -> float:
    """K-weighted mean square of the room beside the tone: the quieter of just before and well after."""
    sides = []
    for start_s, end_s in ((span.start_s - 0.3, span.start_s - 0.05), (span.end_s + 0.4, span.end_s + 0.7)):
        if start_s >= 0.0 and end_s <= frames.duration_s:
            sides.append(median(frames.weighted_power[blocks_between(frames, start_s, end_s)]))
    return min(sides, default=0.0)


def _line(kind: Shape, span: Span, times_s: Doubles, level_db: Doubles) -> ShapeReading:
    """Crescendo and decrescendo: one half over the whole tone; swells: two, parted at the peak (reverse: the waist)."""
    smooth = _smoothed(level_db, SMOOTH)
    upside = -1.0 if kind == "reverse_swell" else 1.0
    peak = int(np.argmax(upside * smooth))
    first_db, last_db = _end_level(times_s, level_db, span.start_s), _end_level(times_s, level_db, span.end_s)
    halves: list[tuple[float, slice]]
    if kind in ("crescendo", "decrescendo"):
        direction = 1.0 if kind == "crescendo" else -1.0
        halves, range_db, ends_db = [(direction, slice(0, len(level_db)))], direction * (last_db - first_db), None
    else:
        halves = [(upside, slice(0, peak + 1)), (-upside, slice(peak, len(level_db)))]
        far = min(first_db, last_db) if upside > 0.0 else max(first_db, last_db)
        range_db, ends_db = upside * (float(smooth[peak]) - far), abs(first_db - last_db)
    sharp = _smoothed(level_db, BACK_SMOOTH)
    lines = [_half(times_s[part], level_db[part], sharp[part], direction) for direction, part in halves]
    rises = [line.slope for (direction, _), line in zip(halves, lines, strict=True) if direction > 0.0]
    falls = [-line.slope for (direction, _), line in zip(halves, lines, strict=True) if direction < 0.0]
    worst = max(lines, key=lambda line: (line.backwards_db, 1.0 - line.straightness))
    return ShapeReading(
        kind,
        range_db=range_db,
        peak_at=(float(times_s[peak]) - span.start_s) / (span.end_s - span.start_s),
        rise_db_per_s=rises[0] if rises else None,
        fall_db_per_s=falls[0] if falls else None,
        straightness=min(line.straightness for line in lines),
        ends_differ_db=ends_db,
        worst_backwards_db=max(line.backwards_db for line in lines),
        at_s=(max(span.start_s, worst.at_s - LISTEN_S), min(span.end_s, worst.at_s + LISTEN_S)),
    )


@dataclass(frozen=True, slots=True)
class Half:
    """One straight stretch: dB a second, R² (better of dB and loudness), largest move against it, where to listen."""

    slope: float
    straightness: float
    backwards_db: float
    at_s: float


def _half(times_s: Doubles, level_db: Doubles, smooth_db: Doubles, direction: float) -> Half:
    if len(times_s) < LEAST_POINTS:
        return Half(0.0, 0.0, 0.0, float(times_s[0]))
    line = through(times_s, level_db)
    straightness = max(r_squared(times_s, level_db), r_squared(times_s, 2.0 ** (level_db / 10.0)))
    back_db = np.maximum.accumulate(direction * smooth_db) - direction * smooth_db
    away_db = np.abs(level_db - line.at(times_s))
    at = np.argmax(back_db) if back_db.max() > 1.0 else np.argmax(away_db)
    return Half(line.slope, straightness, float(back_db.max()), float(times_s[at]))


def _smoothed(level_db: Doubles, kernel: Doubles) -> Doubles:
    return np.convolve(np.pad(level_db, len(kernel) // 2, mode="edge"), kernel, mode="valid")


def _end_level(times_s: Doubles, level_db: Doubles, edge_s: float) -> float:
    """The level at one end of the tone: a line over the nearest half second, read at the end itself."""
    near = np.abs(times_s - edge_s) <= END_S
    return through(times_s[near], level_db[near]).value(edge_s)


def _stepped(times_s: Doubles, level_db: Doubles, steps_expected: int | None) -> ShapeReading:
    found = terraces(level_db, STEP_S)
    steps = np.array(found.steps_db)
    way = max(found.levels_db) - min(found.levels_db)
    middle = median(np.abs(steps)) if len(steps) else 0.0
    if (
        steps_expected is None and middle > 0.0
    ):  # nobody said how many: as many as its own usual step needs for the whole way
        steps_expected = 1 + round(way / middle)
    at_s = None
    if len(steps):
        direction = 1.0 if steps.sum() >= 0.0 else -1.0
        odd = int(np.argmax(np.abs(direction * steps - middle)))
        cut_s = float(times_s[found.cuts[odd + 1]])
        at_s = (max(float(times_s[0]), cut_s - LISTEN_S), cut_s + LISTEN_S)
    return ShapeReading(
        "stepped",
        range_db=way,
        steps_db=found.steps_db,
        steps_found=len(found.levels_db),
        steps_expected=steps_expected,
        slide_share=found.slide_share,
        at_s=at_s,
    )


def _pitch_range(frames: Frames, span: Span, f0_hz: float) -> float | None:
    """From the lowest to the highest pitch on the way, tremble smoothed away; None where too little was read."""
    part = frames_between(frames, span.start_s + 0.06, span.end_s - 0.06)
    cents = cents_between(np.maximum(frames.f0_hz[part], 1.0), f0_hz)
    sure = (frames.spread_cents[part] < SURE_SPREAD_CENTS) & (frames.prominence_db[part] > TONAL_DB)
    cents = cents[sure & (np.abs(cents) < 250.0)]
    if len(cents) < 2 * PITCH_FRAMES:
        return None
    smooth = np.median(np.lib.stride_tricks.sliding_window_view(cents, PITCH_FRAMES), axis=1)
    return float(smooth.max() - smooth.min())
