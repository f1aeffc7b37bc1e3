"""The robust trend, the straight line and the slipped frames."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.glitches import middle_of_three, without_glitches
from analysis.core.lines import r_squared, through
from analysis.core.trend import residuals, robust_sd

X = np.arange(33.0)


def test_a_parabola_leaves_nothing() -> None:
    assert np.abs(residuals(X, 3.0 - 0.4 * X + 0.02 * X**2, 2)).max() < 1e-6


def test_what_one_point_adds_is_all_that_is_left_of_it() -> None:
    y = 0.01 * X**2
    y[12] += 8.0
    left = residuals(X, y, 2)
    assert left[12] == pytest.approx(8.0, abs=1e-3)
    assert np.abs(np.delete(left, 12)).max() < 1e-3


def test_a_third_of_the_points_may_be_wild() -> None:
    rng = np.random.default_rng(4)
    y = 5.0 + 0.3 * X + rng.normal(0.0, 0.1, 33)
    y[::3] += 20.0
    left = residuals(X, y, 1)
    assert np.abs(left[1::3]).max() < 0.6


def test_few_points_get_a_lower_degree() -> None:
    assert residuals(np.arange(4.0), np.array([0.0, 1.0, 2.0, 3.0]), 2) == pytest.approx([0.0, 0.0, 0.0, 0.0], abs=1e-6)
    assert residuals(np.arange(3.0), np.array([0.0, 1.0, 5.0]), 2).tolist() == [-1.0, 0.0, 4.0]


def test_of_normal_scatter_the_robust_spread_is_the_usual_one() -> None:
    values = np.random.default_rng(3).normal(0.0, 2.0, 20_000)
    assert robust_sd(values) == pytest.approx(2.0, rel=0.03)


def test_a_line_is_numpys_line() -> None:
    rng = np.random.default_rng(5)
    x, y = rng.normal(size=50), rng.normal(size=50)
    line = through(x, y)
    assert (line.slope, line.level) == pytest.approx(tuple(np.polyfit(x, y, 1)))
    assert r_squared(x, y) == pytest.approx(np.corrcoef(x, y)[0, 1] ** 2)


def test_a_line_through_one_place_is_level_and_a_level_line_explains_nothing() -> None:
    assert through(np.array([2.0, 2.0]), np.array([1.0, 3.0])).slope == 0.0
    assert r_squared(X, np.full(33, 4.0)) == 0.0


def test_two_slipped_frames_are_left_out_and_the_rest_stays() -> None:
    cents = np.random.default_rng(6).normal(0.0, 1.0, 200)
    cents[[70, 71, 150]] += 80.0
    cleaned = without_glitches(cents)
    assert np.flatnonzero(np.isnan(cleaned)).tolist() == [70, 71, 150]


def test_a_wide_fast_vibrato_keeps_every_frame() -> None:
    t_s = np.arange(300) * 0.01
    wave = 50.0 * np.sin(2.0 * np.pi * 7.0 * t_s)
    assert not np.isnan(without_glitches(wave)).any()


def test_the_middle_of_three_neighbours_is_their_median() -> None:
    values = np.random.default_rng(8).normal(size=40)
    assert middle_of_three(values) == pytest.approx([np.median(values[n : n + 3]) for n in range(38)])


def test_a_course_of_a_few_frames_is_left_alone() -> None:
    assert without_glitches(np.array([0.0, 90.0, 0.0])).tolist() == [0.0, 90.0, 0.0]
