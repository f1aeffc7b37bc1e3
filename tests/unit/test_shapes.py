"""Crescendo, decrescendo, swell, reverse swell: range, turn, slopes, straightness, moves backwards, ends, pitch."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core import shapes
from analysis.core.records import Shape, ShapeReading
from analysis.core.shape_limits import faults, heard_at
from analysis.core.targets import target_for
from tests.unit.made import Curve, frames, span

SECONDS = 6.0


def read(kind: Shape, level_db: Curve, cents: Curve | None = None, floor_db: float = -90.0) -> ShapeReading:
    take = frames(seconds=9.0, ends_s=1.0 + SECONDS, level_db=level_db, cents=cents, floor_db=floor_db)
    return shapes.read(kind, take, span(ends_s=1.0 + SECONDS), 220.0)[0]


def codes(reading: ShapeReading, level: str = "intermediate") -> list[str]:
    target = target_for(level, 72, reading.kind, lowest=58, highest=90)  # type: ignore[arg-type]
    return [fault.code for fault in faults(reading, target)]


def swell(range_db: float = 18.0, peak: float = 0.5, top_db: float = -15.0) -> Curve:
    def level_db(t: np.ndarray) -> np.ndarray:
        place = np.clip(t / SECONDS, 0.0, 1.0)
        share = np.where(place < peak, place / peak, (1.0 - place) / (1.0 - peak))
        return top_db - range_db * (1.0 - share)

    return level_db


def turned(level_db: Curve) -> Curve:
    return lambda t: -50.0 - level_db(t)


def test_a_straight_line_of_30_db_in_6_seconds_climbs_5_db_a_second() -> None:
    found = read("crescendo", lambda t: -40.0 + 5.0 * t)
    assert found.rise_db_per_s == pytest.approx(5.0, abs=0.01)
    assert found.straightness == pytest.approx(1.0, abs=1e-3)
    assert found.range_db == pytest.approx(30.0, abs=0.3)
    assert found.fall_db_per_s is None
    assert found.met


def test_the_same_line_downwards_is_a_decrescendo() -> None:
    found = read("decrescendo", lambda t: -10.0 - 5.0 * t)
    assert found.fall_db_per_s == pytest.approx(5.0, abs=0.01)
    assert found.rise_db_per_s is None
    assert found.met
    assert "shape_too_small" in codes(read("crescendo", lambda t: -10.0 - 5.0 * t))


@pytest.mark.parametrize("peak", [0.25, 0.4, 0.5, 0.6, 0.75])
def test_the_turn_of_a_swell_is_placed(peak: float) -> None:
    found = read("swell", swell(peak=peak))
    assert found.peak_at == pytest.approx(peak, abs=0.02)
    assert found.range_db == pytest.approx(18.0, abs=1.3)
    assert found.rise_db_per_s == pytest.approx(18.0 / (peak * SECONDS), rel=0.05)
    assert found.fall_db_per_s == pytest.approx(18.0 / ((1.0 - peak) * SECONDS), rel=0.05)
    assert found.met == (0.4 <= peak <= 0.6)
    if not found.met:  # the place to hear is where it turns
        turn_s = 1.0 + peak * SECONDS
        assert found.at_s == pytest.approx((turn_s - 0.5, turn_s + 0.5), abs=0.15)


@pytest.mark.parametrize("waist", [0.3, 0.5, 0.7])
def test_a_reverse_swell_is_read_at_its_waist(waist: float) -> None:
    found = read("reverse_swell", turned(swell(peak=waist)))
    assert found.peak_at == pytest.approx(waist, abs=0.02)
    assert found.range_db == pytest.approx(18.0, abs=1.3)
    assert found.met == (waist == 0.5)


def test_a_line_that_is_straight_in_loudness_is_straight() -> None:
    """Loudness in sones doubles each 10 dB: 2 to the power of L / 10 grows evenly."""
    low, high = 2.0 ** (-40.0 / 10.0), 2.0 ** (-15.0 / 10.0)
    found = read("crescendo", lambda t: 10.0 * np.log2(low + (high - low) * np.clip(t / SECONDS, 0.0, 1.0)))
    assert found.straightness == pytest.approx(1.0, abs=1e-3)
    assert found.met


def test_early_and_late_turns_are_told_apart() -> None:
    assert codes(read("swell", swell(peak=0.25))) == ["swell_turns_early"]
    assert codes(read("swell", swell(peak=0.75))) == ["swell_turns_late"]


def test_a_swell_of_10_db_is_too_small_for_an_intermediate_player_and_enough_for_a_beginner() -> None:
    found = read("swell", swell(range_db=10.0))
    assert codes(found) == ["shape_too_small"]
    assert codes(found, "beginner") == []


@pytest.mark.parametrize("level", ["beginner", "intermediate", "advanced"])
def test_a_dip_of_6_db_on_the_way_up_is_found_though_the_line_is_straight_enough(level: str) -> None:
    def level_db(t: np.ndarray) -> np.ndarray:
        return swell(range_db=22.0)(t) - 6.0 * np.exp(-np.square((t - 1.8) / 0.2))

    found = read("swell", level_db)
    assert (found.straightness or 0.0) > 0.88
    assert "shape_turns_back" in codes(found, level)
    assert found.at_s is not None
    assert found.at_s[0] < 1.0 + 1.8 < found.at_s[1]


def test_a_jump_is_not_a_line() -> None:
    found = read("swell", lambda t: np.where((t > 1.5) & (t < 4.5), -15.0, -33.0))
    assert "shape_jumps" in codes(found)
    assert not found.met


def test_ends_that_lie_apart_are_told() -> None:
    found = read("swell", lambda t: np.where(t < 3.0, -33.0 + 6.0 * t, -15.0 - 4.0 * (t - 3.0)))
    assert found.ends_differ_db == pytest.approx(6.0, abs=0.3)
    assert "swell_ends_apart" in codes(found)
    assert heard_at(found, "ends_differ_db", 1.0, 1.0 + SECONDS) == (SECONDS, 1.0 + SECONDS)


def test_pitch_that_moves_with_the_loudness_is_told() -> None:
    found = read("swell", swell(), cents=lambda t: 20.0 * np.sin(np.pi * t / SECONDS))
    assert found.pitch_range_cents == pytest.approx(20.0, abs=2.5)
    assert codes(found) == ["shape_moves_pitch"]


def test_a_tremble_of_the_lip_is_not_the_shapes_pitch() -> None:
    found = read("swell", swell(), cents=lambda t: 15.0 * np.sin(2.0 * np.pi * 6.0 * t))
    assert (found.pitch_range_cents or 0.0) < 8.0


def test_the_rooms_noise_is_taken_off_the_soft_ends() -> None:
    """A swell of 24 dB whose ends lie 3 dB over the noise would look like one of 22 with bent ends."""
    found = read("swell", swell(range_db=24.0, top_db=-15.0), floor_db=-42.0)
    assert found.range_db == pytest.approx(24.0, abs=1.3)
    assert found.straightness == pytest.approx(1.0, abs=0.01)


def test_a_plain_tone_has_no_shape_to_meet() -> None:
    found = read("sustained", lambda t: -20.0 + 0.0 * t)
    assert found.met is None
    assert found.range_db == pytest.approx(0.0, abs=0.01)
    assert codes(found) == []


def test_a_flat_tone_is_no_swell() -> None:
    found = read("swell", lambda t: -20.0 + 0.0 * t)
    assert not found.met
    assert "shape_too_small" in codes(found)


def test_a_tone_shorter_than_a_second_has_no_shape() -> None:
    take = frames(ends_s=1.8)
    assert shapes.read("swell", take, span(ends_s=1.8), 220.0) == (ShapeReading("swell"), {})
