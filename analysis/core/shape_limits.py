"""A reading of a shape against its limits, question by question, in the order in which a player would hear it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.records import ShapeReading, Target
from analysis.core.targets import is_within

if TYPE_CHECKING:
    from analysis.core.records import Doubles

UNHEARD_STEP_DB = 1.5  # what one step lies off the middle one by less than this, nobody hears as uneven
AT_THE_TURN = {"peak_at", "slope_ratio", "range_db"}  # heard where the line turns, wherever it is least straight
LISTEN_S = 0.5  # before and after the place to hear


@dataclass(frozen=True, slots=True)
class Look:
    """One question put to a shape.

    ``part``: the field of ShapeReading, or what is worked out of them; ``measure``: the field of Target, "" where there
    is no limit to be near to; ``value`` against ``limit``; ``code``: what a miss is called, see data/words.toml.
    """

    part: str
    measure: str
    value: float | None
    limit: float
    code: str
    met: bool


def looks(reading: ShapeReading, target: Target) -> tuple[Look, ...]:
    """Every question that can be put to ``reading``. A plain tone has nothing to meet: none."""
    if reading.kind == "stepped":
        return tuple(_stepped(reading, target))
    if reading.kind in ("sustained", "evenness"):
        return ()
    return tuple(_line(reading, target))


def faults(reading: ShapeReading, target: Target) -> tuple[Look, ...]:
    """Everything in which ``reading`` does not meet ``target``; empty: met."""
    return tuple(look for look in looks(reading, target) if not look.met)


def heard_at(reading: ShapeReading, part: str, start_s: float, end_s: float) -> tuple[float, float] | None:
    """Where the fault in ``part`` of a tone that sounds from ``start_s`` to ``end_s`` is heard, in take seconds."""
    if part == "ends_differ_db":
        return max(start_s, end_s - 2.0 * LISTEN_S), end_s
    if part in AT_THE_TURN and reading.peak_at is not None:
        turn_s = start_s + reading.peak_at * (end_s - start_s)
        return max(start_s, turn_s - LISTEN_S), min(end_s, turn_s + LISTEN_S)
    return reading.at_s


def _against(part: str, measure: str, value: float | None, target: Target, code: str) -> Look:
    """``value`` against the limit of that name; what could not be read is not met."""
    limit: float = getattr(target, measure)
    return Look(part, measure, value, limit, code, value is not None and is_within(measure, value, limit))


def _line(reading: ShapeReading, target: Target) -> Iterator[Look]:
    swell = reading.kind in ("swell", "reverse_swell")
    yield _against("worst_backwards_db", "backwards_db", reading.worst_backwards_db, target, "shape_turns_back")
    yield _against("range_db", "shape_range_db", reading.range_db, target, "shape_too_small")
    if swell:
        yield from _peak(reading, target)
    yield _against("straightness", "straightness", reading.straightness, target, "shape_jumps")
    if swell and reading.ends_differ_db is not None:
        yield _against("ends_differ_db", "ends_differ_db", reading.ends_differ_db, target, "swell_ends_apart")
    yield from _pitch(reading, target)


def _peak(reading: ShapeReading, target: Target) -> Iterator[Look]:
    """The place of the turn and, where it lies well, the slopes on both sides of it."""
    peak, rise, fall = reading.peak_at, reading.rise_db_per_s, reading.fall_db_per_s
    if peak is None or rise is None or fall is None:
        yield Look("peak_at", "", peak, target.peak_from, "shape_not_there", met=False)
        return
    places = (
        _against("peak_at", "peak_from", peak, target, "swell_turns_early"),
        _against("peak_at", "peak_to", peak, target, "swell_turns_late"),
    )
    yield from places
    first, second = (rise, fall) if reading.kind == "swell" else (fall, rise)
    if not all(look.met for look in places):
        return
    if second <= 0.0 or first <= 0.0:
        yield Look("peak_at", "", peak, target.peak_from, "shape_not_there", met=False)
        return
    ratio = first / second
    yield _against("slope_ratio", "slope_ratio_from", ratio, target, "swell_second_half_faster")
    yield _against("slope_ratio", "slope_ratio_to", ratio, target, "swell_first_half_faster")


def _stepped(reading: ShapeReading, target: Target) -> Iterator[Look]:
    steps = np.array(reading.steps_db)
    count = float(reading.steps_found or 0)
    if count < 2:
        yield Look("steps_found", "", count, target.steps_at_least, "steps_not_there", met=False)
        return
    sizes = steps if steps.sum() >= 0.0 else -steps
    smallest = float(sizes.min())
    if smallest <= 0.0:
        yield Look("steps_db", "", smallest, 0.0, "steps_turn_back", met=False)
    else:
        yield _against("steps_db", "smallest_step_db", smallest, target, "steps_too_small")
    yield _against("step_share", "step_share", _odd_share(sizes), target, "steps_uneven")
    yield _against("steps_db", "step_sd_db", float(sizes.std()), target, "steps_uneven")
    least = min(target.steps_at_least, reading.steps_expected or np.inf)
    yield Look("steps_found", "", count, least, "steps_too_few", met=count >= least)
    if reading.slide_share is not None:
        yield _against("slide_share", "slide_share", reading.slide_share, target, "steps_slide")
    yield from _pitch(reading, target)


def _odd_share(sizes: Doubles) -> float:
    """How far the oddest step lies from the middle one, as a share of it; 0 where nobody would hear it."""
    middle = float(np.median(np.abs(sizes)))
    odd_db = float(np.abs(sizes - middle).max())
    return odd_db / max(middle, 1e-9) if odd_db > UNHEARD_STEP_DB else 0.0


def _pitch(reading: ShapeReading, target: Target) -> Iterator[Look]:
    moved = reading.pitch_range_cents
    if moved is not None:
        yield _against("pitch_range_cents", "shape_pitch_range_cents", moved, target, "shape_moves_pitch")
