"""Stepped dynamics: plateaus found, their steps, order, evenness; a slide is no stair."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core import shapes
from analysis.core.records import ShapeReading
from analysis.core.shape_limits import faults
from analysis.core.steps import terraces
from analysis.core.targets import target_for
from tests.unit.made import frames, span

SECONDS = 8.0
STEP_S = 0.025


def read(levels_db: list[float], noise_db: float = 0.0) -> ShapeReading:
    def level_db(t: np.ndarray) -> np.ndarray:
        place = np.clip((t / SECONDS * len(levels_db)).astype(int), 0, len(levels_db) - 1)
        return np.array(levels_db)[place] + noise_db * np.random.default_rng(1).normal(size=len(t))

    take = frames(seconds=11.0, ends_s=1.0 + SECONDS, level_db=level_db, floor_db=-90.0)
    return shapes.read("stepped", take, span(ends_s=1.0 + SECONDS), 220.0)[0]


def codes(reading: ShapeReading, level: str = "intermediate") -> list[str]:
    target = target_for(level, 72, "stepped", lowest=58, highest=90)  # type: ignore[arg-type]
    return [fault.code for fault in faults(reading, target)]


def test_eight_terraces_of_3_db_are_eight_steps_of_3_db() -> None:
    found = read([-40.0 + 3.0 * n for n in range(8)])
    assert found.steps_found == found.steps_expected == 8
    assert found.steps_db == pytest.approx((3.0,) * 7, abs=0.01)
    assert np.std(found.steps_db) == pytest.approx(0.0, abs=0.01)
    assert found.met


def test_downwards_is_as_good() -> None:
    found = read([-12.0 - 2.5 * n for n in range(8)])
    assert found.steps_db == pytest.approx((-2.5,) * 7, abs=0.01)
    assert found.met


def test_steps_are_read_within_two_tenths_through_a_trembling_level() -> None:
    found = read([-40.0 + 4.0 * n for n in range(6)], noise_db=0.5)
    assert found.steps_db == pytest.approx((4.0,) * 5, abs=0.2)


def test_a_missing_step_is_a_double_one() -> None:
    found = read([-20.0, -16.0, -12.0, -4.0, 0.0])
    assert (found.steps_found, found.steps_expected) == (5, 6)
    assert codes(found) == ["steps_uneven"]
    assert found.at_s is not None
    assert found.at_s[0] < 1.0 + 3.0 * SECONDS / 5.0 < found.at_s[1]


def test_one_double_step_among_many_fails_though_the_spread_is_small() -> None:
    found = read([0.0, -2.0, -4.0, -6.0, -8.0, -10.0, -14.0, -16.0])
    assert np.std(found.steps_db) < 1.0
    assert "steps_uneven" in codes(found)


def test_two_steps_that_sound_alike_are_one_plateau() -> None:
    found = read([-20.0, -16.0, -12.0, -11.6, -4.0, 0.0])
    assert found.steps_found == 5
    assert not found.met


def test_a_step_the_wrong_way_is_told_first() -> None:
    assert codes(read([-20.0, -16.0, -8.0, -12.0, -4.0, 0.0]))[0] == "steps_turn_back"


def test_steps_nobody_hears_are_too_small() -> None:
    assert "steps_too_small" in codes(read([-20.0, -18.9, -17.8, -16.7, -15.6]))


def test_four_plateaus_are_enough_for_a_beginner() -> None:
    found = read([-20.0, -16.0, -12.0, -8.0])
    found = ShapeReading(**{**{n: getattr(found, n) for n in found.__slots__}, "steps_expected": 8})
    assert codes(found, "beginner") == []
    assert codes(found, "advanced") == ["steps_too_few"]


def test_a_slide_is_no_stair_however_evenly_it_can_be_cut() -> None:
    take = frames(seconds=11.0, ends_s=1.0 + SECONDS, level_db=lambda t: -40.0 + 3.0 * t, floor_db=-90.0)
    found = shapes.read("stepped", take, span(ends_s=1.0 + SECONDS), 220.0)[0]
    assert (found.slide_share or 0.0) > 0.7
    assert "steps_slide" in codes(found)


def test_a_level_tone_has_no_steps() -> None:
    found = read([-20.0])
    assert found.steps_db == ()
    assert codes(found) == ["steps_not_there"]


def test_the_cut_is_the_best_there_is() -> None:
    """Derived: every pair of borders of a short course tried by hand."""
    rng = np.random.default_rng(7)
    course = np.concatenate([np.full(14, 0.0), np.full(16, 5.0), np.full(15, 9.0)]) + rng.normal(0.0, 0.3, 45)
    shortest = round(0.25 / STEP_S)

    def left(cuts: tuple[int, int]) -> float:
        return sum(float(np.square(part - part.mean()).sum()) for part in np.split(course, list(cuts)))

    best = min(
        ((a, b) for a in range(shortest, 45) for b in range(a + shortest, 46 - shortest)),
        key=left,
    )
    assert terraces(course, STEP_S).cuts == (0, *best, 45)


def test_a_course_too_short_to_cut_is_one_plateau() -> None:
    assert terraces(np.linspace(0.0, 9.0, 12), STEP_S).cuts == (0, 12)
