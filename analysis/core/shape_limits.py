"""A reading of a shape against the limits for it: what is not yet so, in the order in which a player would hear it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from analysis.core.records import ShapeReading, Target

LEAST_STEP_TOLERANCE_DB = 1.5
AT_THE_TURN = {"peak_at", "slope_ratio", "range_db"}  # heard where the line turns, wherever it is least straight
LISTEN_S = 0.5  # before and after the place to hear


@dataclass(frozen=True, slots=True)
class Fault:
    """``part``: the field of ShapeReading; ``value`` against ``limit``; ``code``: see data/words.toml."""

    part: str
    value: float | None
    limit: float
    code: str


def faults(reading: ShapeReading, target: Target) -> tuple[Fault, ...]:
    """Everything in which ``reading`` does not meet ``target``; empty: met. A plain tone has nothing to meet."""
    if reading.kind == "stepped":
        return tuple(_stepped(reading, target))
    if reading.kind in ("sustained", "evenness"):
        return ()
    return tuple(_line(reading, target))


def heard_at(reading: ShapeReading, part: str, start_s: float, end_s: float) -> tuple[float, float] | None:
    """Where the fault in ``part`` of a tone that sounds from ``start_s`` to ``end_s`` is heard, in take seconds."""
    if part == "ends_differ_db":
        return max(start_s, end_s - 2.0 * LISTEN_S), end_s
    if part in AT_THE_TURN and reading.peak_at is not None:
        turn_s = start_s + reading.peak_at * (end_s - start_s)
        return max(start_s, turn_s - LISTEN_S), min(end_s, turn_s + LISTEN_S)
    return reading.at_s


def _line(reading: ShapeReading, target: Target) -> list[Fault]:
    found = []
    swell = reading.kind in ("swell", "reverse_swell")
    if (back := reading.worst_backwards_db) is None or back > target.backwards_db:
        found.append(Fault("worst_backwards_db", back, target.backwards_db, "shape_turns_back"))
    if (way := reading.range_db) is None or way < target.shape_range_db:
        found.append(Fault("range_db", way, target.shape_range_db, "shape_too_small"))
    if swell:
        found += _peak(reading, target)
    if (straight := reading.straightness) is None or straight < target.straightness:
        found.append(Fault("straightness", straight, target.straightness, "shape_jumps"))
    if swell and (apart := reading.ends_differ_db) is not None and apart > target.ends_differ_db:
        found.append(Fault("ends_differ_db", apart, target.ends_differ_db, "swell_ends_apart"))
    return found + _pitch(reading, target)


def _peak(reading: ShapeReading, target: Target) -> list[Fault]:
    peak, rise, fall = reading.peak_at, reading.rise_db_per_s, reading.fall_db_per_s
    if peak is None or rise is None or fall is None:
        return [Fault("peak_at", peak, target.peak_from, "shape_not_there")]
    if peak < target.peak_from:
        return [Fault("peak_at", peak, target.peak_from, "swell_turns_early")]
    if peak > target.peak_to:
        return [Fault("peak_at", peak, target.peak_to, "swell_turns_late")]
    first, second = (rise, fall) if reading.kind == "swell" else (fall, rise)
    if second <= 0.0 or first <= 0.0:
        return [Fault("peak_at", peak, target.peak_from, "shape_not_there")]
    if first / second < target.slope_ratio_from:
        return [Fault("slope_ratio", first / second, target.slope_ratio_from, "swell_second_half_faster")]
    if first / second > target.slope_ratio_to:
        return [Fault("slope_ratio", first / second, target.slope_ratio_to, "swell_first_half_faster")]
    return []


def _stepped(reading: ShapeReading, target: Target) -> list[Fault]:
    steps = np.array(reading.steps_db)
    count = float(reading.steps_found or 0)
    if count < 2:
        return [Fault("steps_found", count, target.steps_at_least, "steps_not_there")]
    found = []
    sizes = steps if steps.sum() >= 0.0 else -steps
    middle = float(np.median(np.abs(sizes)))
    tolerance_db = max(LEAST_STEP_TOLERANCE_DB, target.step_share * middle)
    odd_db = float(np.abs(sizes - middle).max())
    if sizes.min() <= 0.0:
        found.append(Fault("steps_db", float(sizes.min()), 0.0, "steps_turn_back"))
    elif sizes.min() < target.smallest_step_db:
        found.append(Fault("steps_db", float(sizes.min()), target.smallest_step_db, "steps_too_small"))
    if odd_db > tolerance_db or float(sizes.std()) > target.step_sd_db:
        found.append(Fault("steps_db", odd_db, tolerance_db, "steps_uneven"))
    if count < min(target.steps_at_least, reading.steps_expected or np.inf):
        found.append(Fault("steps_found", count, target.steps_at_least, "steps_too_few"))
    if (slid := reading.slide_share) is not None and slid > target.slide_share:
        found.append(Fault("slide_share", slid, target.slide_share, "steps_slide"))
    return found + _pitch(reading, target)


def _pitch(reading: ShapeReading, target: Target) -> list[Fault]:
    moved = reading.pitch_range_cents
    if moved is None or moved <= target.shape_pitch_range_cents:
        return []
    return [Fault("pitch_range_cents", moved, target.shape_pitch_range_cents, "shape_moves_pitch")]
