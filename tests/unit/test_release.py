"""How a tone stops: tapered, clipped, with a bump; and whether its pitch sags."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core import release
from analysis.core.records import Frames, Release
from tests.unit.made import frames, span


def read(take: Frames, **more: object) -> Release:
    return release.read(take, span(**more), 220.0, 1e-8)[0]


def fading(seconds: float) -> Frames:
    """The amplitude falls in a straight line to nothing, and is half gone at the stop."""
    begins_s = 3.0 - seconds / 2.0
    return frames(
        seconds=6.0,
        ends_s=5.5,
        level_db=lambda t: -20.0 + 20.0 * np.log10(np.clip(1.0 - (t - begins_s) / seconds, 1e-4, 1.0)),
    )


@pytest.mark.parametrize("seconds", [0.1, 0.2, 0.4])
def test_a_straight_fade_falls_from_3_to_20_db_in_0_61_of_its_length(seconds: float) -> None:
    assert read(fading(seconds)).fall_s == pytest.approx(0.608 * seconds, abs=0.016)


def test_a_long_fade_is_tapered_and_a_cut_is_clipped() -> None:
    assert read(fading(0.4)).kind == "tapered"
    assert read(frames()).kind == "clipped"


def test_what_lies_between_is_called_neither() -> None:
    assert read(fading(0.08)).kind is None


def test_a_swell_in_the_last_moment_is_a_bump() -> None:
    take = frames(level_db=lambda t: np.where(t > 2.85, -14.0, -20.0))
    assert read(take).kind == "bumped"


def test_a_crescendo_to_the_end_is_no_bump() -> None:
    assert read(frames(level_db=lambda t: -30.0 + 5.0 * t)).kind != "bumped"


def test_a_few_hundredths_louder_as_the_room_lets_go_are_no_bump() -> None:
    assert read(frames(level_db=lambda t: np.where(t > 2.97, -16.0, -20.0))).kind != "bumped"


def test_a_level_that_swings_by_itself_needs_more_for_a_bump() -> None:
    take = frames(level_db=lambda t: -20.0 + 3.5 * np.sin(2.0 * np.pi * 5.0 * t))
    assert read(take).kind != "bumped"


@pytest.mark.parametrize("size", [-40.0, -15.0, 25.0])
def test_a_sag_keeps_its_size_and_its_side(size: float) -> None:
    take = frames(cents=lambda t: size * np.clip((t - 2.8) / 0.2, 0.0, 1.0))
    assert read(take).sag_cents == pytest.approx(size, rel=0.1)


def test_a_slow_drift_is_hardly_a_sag() -> None:
    assert abs(read(frames(cents=lambda t: -4.0 * t)).sag_cents or 0.0) < 4.0


def test_what_the_vibrato_explains_is_no_sag() -> None:
    take = frames(cents=lambda t: 30.0 * np.sin(2.0 * np.pi * 5.0 * t))
    assert abs(release.read(take, span(), 220.0, 1e-8, extent_cents=30.0)[0].sag_cents or 0.0) < 3.0


def test_a_tone_that_slurs_on_has_no_stop_of_its_own() -> None:
    assert read(frames(), slurred_out=True) == Release()


def test_a_recording_that_ends_with_the_tone_shows_no_stop() -> None:
    assert read(frames(seconds=4.0)) == Release()


def test_a_fall_that_sinks_into_the_noise_is_not_timed() -> None:
    take = frames(floor_db=-35.0)
    assert release.read(take, span(), 220.0, 10.0**-3.5)[0].fall_s is None


def test_a_tone_too_short_to_have_a_body_has_no_stop_to_tell() -> None:
    assert read(frames(ends_s=1.3), ends_s=1.3) == Release()
