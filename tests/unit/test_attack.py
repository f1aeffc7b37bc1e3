"""How a tone starts: rise, scoop, settling, air, crack, double start, accent."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core import attack
from analysis.core.records import Attack, Frames, Vibrato
from tests.unit.made import frames, span

PLAIN = Vibrato(present=False)
ROOM = 1e-8


def read(take: Frames, vibrato: Vibrato = PLAIN, spread_cents: float | None = None, **more: object) -> Attack:
    return attack.read(take, span(**more), 220.0, ROOM, vibrato, spread_cents)[0]


@pytest.mark.parametrize("length_s", [0.05, 0.1, 0.2, 0.3])
def test_a_straight_ramp_is_within_3_db_after_0_61_of_it_when_20_db_under_is_where_it_starts(length_s: float) -> None:
    """Amplitude grows as t / T: 20 dB under at 0.1 T, 3 dB under at 0.708 T."""
    begins_s = 0.1 * length_s
    take = frames(level_db=lambda t: -20.0 + 20.0 * np.log10(np.clip((t + begins_s) / length_s, 1e-4, 1.0)))
    assert read(take).rise_s == pytest.approx(0.608 * length_s, abs=0.006)


def test_a_rise_that_is_exponential_takes_as_long_as_its_decibels() -> None:
    """500 dB a second from 20 dB under the tone: 17 dB later it is within 3 dB."""
    take = frames(level_db=lambda t: np.minimum(-20.0, -40.0 + 500.0 * t))
    assert read(take).rise_s == pytest.approx(17.0 / 500.0, abs=0.006)


@pytest.mark.parametrize("depth", [-60.0, -25.0, 30.0])
def test_a_scoop_keeps_its_size_and_its_side(depth: float) -> None:
    take = frames(cents=lambda t: depth * np.clip(1.0 - t / 0.3, 0.0, None))
    # Largest in the window from 50 ms on, where five sixths of it are left; a median of three frames costs one more.
    assert read(take).scoop_cents == pytest.approx(depth * (1.0 - 0.06 / 0.3), rel=0.06)


def test_a_tone_settles_when_it_comes_within_10_cents_for_good() -> None:
    take = frames(cents=lambda t: -60.0 * np.clip(1.0 - t / 0.3, 0.0, None))
    assert read(take).settle_s == pytest.approx(0.25, abs=0.02)


def test_a_drift_through_the_whole_tone_is_no_scoop() -> None:
    assert abs(read(frames(cents=lambda t: 10.0 * t)).scoop_cents or 0.0) < 1.0


def test_the_waves_of_a_vibrato_are_no_scoop_and_do_not_keep_it_from_settling() -> None:
    take = frames(cents=lambda t: 25.0 * np.sin(2.0 * np.pi * 5.5 * t))
    found = read(take, Vibrato(True, 5.5, 25.0, 0.02, 0.05), 1.0)
    assert abs(found.scoop_cents or 0.0) < 3.0
    assert (found.settle_s or 0.0) < 0.05


def test_one_slipped_frame_is_no_scoop() -> None:
    take = frames()
    take.f0_hz[110] *= 2.0 ** (80.0 / 1200.0)
    assert abs(read(take).scoop_cents or 0.0) < 1.0


@pytest.mark.parametrize("air_s", [0.1, 0.25, 0.5])
def test_breath_that_runs_into_the_tone_is_timed(air_s: float) -> None:
    take = frames(before=lambda t: np.where((t > 1.0 - air_s) & (t < 1.0), -50.0, -80.0))
    assert read(take).air_before_s == pytest.approx(air_s, abs=0.016)


def test_breath_with_a_gap_before_the_tone_is_not_its_air() -> None:
    take = frames(before=lambda t: np.where((t > 0.3) & (t < 0.8), -50.0, -80.0))
    assert (read(take).air_before_s or 0.0) < 0.03


def test_noise_that_climbs_slowly_is_the_phone_turning_itself_up_and_no_breath() -> None:
    take = frames(before=lambda t: np.where(t < 1.0, -80.0 + 25.0 * t, -80.0))
    assert (read(take).air_before_s or 0.0) == 0.0


def with_partial(take: Frames, ratio: float, from_s: float, to_s: float, own_db: float = 0.0) -> Frames:
    """The pitch search follows ``ratio`` times the tone; ``own_db``: what the tone does not share, re the rest."""
    part = slice(round(from_s * 100), round(to_s * 100))
    take.f0_hz[part] *= ratio
    if ratio < 1.0:
        divisor = round(1.0 / ratio)
        shared = np.arange(1, 21) % divisor == 0
        powers = np.where(shared, 1.0, 0.0)
        powers[~shared] = 10.0 ** (own_db / 10.0) * shared.sum() / (~shared).sum()
        take.partials[part] = take.tonal_power[part, None] * (powers / powers.sum()).astype(np.float32)
    return take


@pytest.mark.parametrize("ratio", [2.0, 3.0, 0.5])
def test_another_partial_for_a_tenth_of_a_second_is_a_crack(ratio: float) -> None:
    found = read(with_partial(frames(), ratio, 1.0, 1.1))
    assert found.cracked
    assert found.cracked_at_s == pytest.approx(1.0, abs=0.02)


def test_a_crack_in_the_middle_is_told_with_its_place() -> None:
    assert read(with_partial(frames(), 1.5, 2.5, 2.6)).cracked_at_s == pytest.approx(2.5, abs=0.02)


def test_two_frames_of_another_partial_are_no_crack() -> None:
    assert not read(with_partial(frames(), 2.0, 1.05, 1.07)).cracked


def test_a_trace_of_the_lower_octave_at_the_start_is_no_crack_and_no_scoop() -> None:
    found = read(with_partial(frames(), 0.5, 1.0, 1.08, own_db=-16.0))
    assert not found.cracked
    assert abs(found.scoop_cents or 0.0) < 1.0


def test_another_partial_far_under_the_tone_is_no_crack() -> None:
    take = frames(level_db=lambda t: np.where(t < 0.1, -36.0, -20.0))
    assert not read(with_partial(take, 2.0, 1.0, 1.09)).cracked


def test_a_start_a_dip_and_a_start_again_are_two() -> None:
    take = frames(level_db=lambda t: np.where((t > 0.06) & (t < 0.14), -34.0, -20.0))
    assert read(take).double_start


@pytest.mark.parametrize("dip_db", [3.0, 5.0])
def test_a_dip_that_a_room_makes_is_no_second_start(dip_db: float) -> None:
    take = frames(level_db=lambda t: np.where((t > 0.06) & (t < 0.14), -20.0 - dip_db, -20.0))
    assert not read(take).double_start


def test_a_tone_that_comes_in_slowly_starts_once() -> None:
    assert not read(frames(level_db=lambda t: np.minimum(-20.0, -45.0 + 60.0 * t))).double_start


def test_an_accent_is_the_first_tenth_over_the_body() -> None:
    take = frames(level_db=lambda t: np.where(t < 0.1, -14.0, -20.0))
    assert read(take).accent_db == pytest.approx(6.0, abs=0.5)


def test_a_tone_that_a_slur_runs_into_has_no_start_of_its_own() -> None:
    found = read(frames(), slurred_in=True)
    assert found == Attack()


def test_a_recording_that_begins_with_the_tone_has_no_air_to_tell() -> None:
    take = frames(starts_s=0.0, ends_s=3.0)
    assert read(take, starts_s=0.0, ends_s=3.0).air_before_s is None


def test_a_tone_right_after_the_recording_begins_may_have_little_room_for_air() -> None:
    take = frames(starts_s=0.11, ends_s=3.0, before=lambda t: np.where(t > 0.006, -50.0, -80.0))
    assert read(take, starts_s=0.11, ends_s=3.0).air_before_s == pytest.approx(0.1, abs=0.02)


def test_a_tone_too_short_for_a_body_has_no_rise() -> None:
    take = frames(starts_s=1.0, ends_s=1.15)
    found = read(take, starts_s=1.0, ends_s=1.15)
    assert found.rise_s is None
    assert found.settle_s is None


def test_each_number_that_was_read_says_how_far_it_could_be_off() -> None:
    found, errors = attack.read(frames(), span(), 220.0, ROOM, PLAIN, 1.0)
    assert set(errors) == {"rise_s", "settle_s", "air_before_s", "scoop_cents"}
    assert all(getattr(found, name) is not None and error > 0.0 for name, error in errors.items())
    assert attack.read(frames(), span(slurred_in=True), 220.0, ROOM, PLAIN, 1.0)[1] == {}


def test_unsteady_tones_are_given_twice_their_wander_before_they_count_as_unsettled() -> None:
    waver = frames(cents=lambda t: 14.0 * np.sin(2.0 * np.pi * 1.3 * t))
    assert (read(waver, spread_cents=10.0).settle_s or 0.0) < 0.05


def test_the_pitch_of_what_is_far_softer_than_the_tone_is_not_the_tones() -> None:
    take = frames(
        level_db=lambda t: np.where((t > 0.05) & (t < 0.12), -45.0, -20.0),
        cents=lambda t: np.where((t > 0.05) & (t < 0.12), 90.0, 0.0),
    )
    assert abs(attack.read(take, span(), 220.0, ROOM, PLAIN)[0].scoop_cents or 0.0) < 1.0
