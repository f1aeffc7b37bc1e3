"""A partial beside the normally fingered note: pitch, colour, and how sure one may be of either."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from analysis.core.judge import judge
from analysis.core.records import Asked, Difference, SamePitch
from analysis.core.same_pitch import centroid, compare, is_alike
from analysis.core.targets import target_for
from analysis.synthesis import Place, Room, ToneSpec, Truth
from tests.unit.test_heard_as_sounded import heard, human

PAIRS = {2: 70, 3: 77, 5: 86}  # partials of low B flat and the notes they sound as


def pair(partial: int, *, cents: float = 0.0, colour_db: float = 0.0, fingered_cents: float = 0.0) -> list[ToneSpec]:
    return [
        ToneSpec(written_midi=58, partial=partial, faults=human(cents=cents, colour_db=colour_db)),
        ToneSpec(written_midi=PAIRS[partial], faults=human(cents=fingered_cents)),
    ]


@cache
def compared(
    partial: int, cents: float, colour_db: float, fingered_cents: float, room_db: float | None = None, seed: int = 1
) -> tuple[SamePitch, list[Truth]]:
    asked = (Asked(58, partial=partial), Asked(PAIRS[partial]))
    room = Room(direct_to_reverberant_db=room_db) if room_db is not None else None
    specs = pair(partial, cents=cents, colour_db=colour_db, fingered_cents=fingered_cents)
    measurement, truths = heard(specs, place=Place(noise_dbfs=-72.0, room=room), asked=asked, seed=seed)
    return compare(*measurement.tones), truths


@pytest.mark.parametrize("partial", PAIRS)
def test_pitch_is_held_against_the_exact_partial_and_against_the_other(partial):
    found, _ = compared(partial, 12.0, 4.0, -3.0)
    exact = 1200.0 * math.log2(partial) - 100.0 * (PAIRS[partial] - 58)  # trade arithmetic: 0, +1.96 and -13.69
    assert found.overtone_cents.value == pytest.approx(12.0, abs=0.5)
    assert found.fingered_cents.value == pytest.approx(-3.0, abs=0.5)
    assert found.between_cents.value == pytest.approx(15.0 + exact, abs=0.7)
    assert found.in_tune_cents == pytest.approx(exact, abs=0.01)


@pytest.mark.parametrize("partial", PAIRS)
def test_the_brighter_of_the_two_is_heard_as_the_brighter(partial):
    found, truths = compared(partial, 12.0, 4.0, -3.0)
    true_pct = 100.0 * (truths[0].centroid_harmonics / truths[1].centroid_harmonics - 1.0)
    assert true_pct > 10.0
    assert found.brightness_pct.value == pytest.approx(true_pct, abs=3.0)
    assert is_alike(found.brightness_pct, 10.0) is False
    dull, truths = compared(partial, 0.0, -4.0, 0.0)
    assert truths[0].centroid_harmonics < truths[1].centroid_harmonics
    assert dull.brightness_pct.value < -4.0
    same, _ = compared(partial, 0.0, 0.0, 0.0)
    assert is_alike(same.brightness_pct, 10.0) is True


@pytest.mark.parametrize("room_db", [0.0, 6.0, 12.0])
def test_in_a_room_the_errors_say_how_far_off_the_colour_is(room_db):
    off: dict[str, list[float]] = {"brightness_pct": [], "tilt_db_per_octave": [], "odd_even_db": []}
    for seed in range(8):
        found, (one, other) = compared(2, 15.0, 0.0, -6.0, room_db, seed)
        truths = (
            100.0 * (one.centroid_harmonics / other.centroid_harmonics - 1.0),
            0.0,
            one.odd_even_db - other.odd_even_db,
        )
        for name, true in zip(off, truths, strict=True):
            off[name].append((getattr(found, name).value - true) / getattr(found, name).error)
    for name, deviations in off.items():  # in standard deviations: about one, never a boast
        assert 0.3 < float(np.sqrt(np.mean(np.square(deviations)))) < 1.6, name


def test_with_another_partial_nothing_is_said_of_its_pitch():
    specs = [pair(2, cents=40.0)[0], pair(3)[1]]
    measurement, _ = heard(specs, asked=(Asked(58, partial=3), Asked(77)))
    tone = measurement.tones[0]
    assert (tone.partial, tone.asked_index, tone.expected) == (2, 0, False)
    target = target_for("intermediate", 58, "mf", lowest=58, highest=90, partial=3)
    found = judge(tone, Asked(58, partial=3), target, measurement.capture, None)
    assert (found.outcome, [check.code for check in found.checks]) == ("miss", ["other_partial"])


@pytest.mark.parametrize(
    ("value", "error", "alike"), [(3.0, 1.0, True), (9.0, 1.0, None), (11.0, 1.0, None), (-13.0, 1.0, False)]
)
def test_alike_apart_or_too_near_to_tell(value, error, alike):
    assert is_alike(Difference(value, error), 10.0) is alike


def test_the_centroid_of_known_levels_is_that_of_the_closed_form():
    sawtooth = tuple(-20.0 * math.log10(number) for number in range(1, 21))
    assert centroid(sawtooth) == pytest.approx(5.55905, abs=1e-4)
    assert centroid((0.0, -200.0)) == 1.0
    assert centroid(()) is None
