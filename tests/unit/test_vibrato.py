"""Vibrato: there or not, rate, extent, regularity; a slow waver is none."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.core.records import Vibrato
from analysis.core.vibrato import kept_of_swing, rates, read

STEP_S, WINDOW_S = 0.01, 0.064


def wave(rate_hz: float, extent: float, seconds: float = 3.0, phase: float = 0.4) -> NDArray[np.float64]:
    """What the pitch search makes of a wave: smaller by what its window smooths away."""
    t_s = np.arange(round(seconds / STEP_S)) * STEP_S
    return extent * kept_of_swing(rate_hz, WINDOW_S) * np.sin(2.0 * np.pi * rate_hz * t_s + phase)


def wander(seconds: float, lowest_hz: float, highest_hz: float, sd: float, seed: int) -> NDArray[np.float64]:
    count = round(seconds / STEP_S)
    spectrum = np.fft.rfft(np.random.default_rng(seed).normal(size=count))
    rate = np.fft.rfftfreq(count, STEP_S)
    spectrum[(rate < lowest_hz) | (rate > highest_hz)] = 0.0
    line = np.fft.irfft(spectrum, count)
    return line * sd / line.std()


@pytest.mark.parametrize("rate_hz", [3.5, 4.0, 5.0, 6.0, 8.0])
@pytest.mark.parametrize("extent", [6.0, 10.0, 20.0, 40.0, 50.0])
def test_a_sine_gives_back_its_rate_and_extent(rate_hz: float, extent: float) -> None:
    found = read(wave(rate_hz, extent), STEP_S, WINDOW_S).vibrato
    assert found.present
    assert found.rate_hz == pytest.approx(rate_hz, abs=0.01)
    assert found.extent_cents == pytest.approx(extent, rel=0.02)
    assert found.rate_cv == pytest.approx(0.0, abs=0.01)
    assert found.extent_cv == pytest.approx(0.0, abs=0.03)


@pytest.mark.parametrize("pulse", [0.8, 1.0, 1.33, 2.0, 2.67, 3.0, 5.33, 9.0])
def test_slow_and_fast_exercises_are_heard_when_their_pulse_was_set(pulse: float) -> None:
    found = read(wave(pulse, 10.0, seconds=6.0), STEP_S, WINDOW_S, pulse).vibrato
    assert found.rate_hz == pytest.approx(pulse, abs=0.02)
    assert found.extent_cents == pytest.approx(10.0, rel=0.05)


def test_eight_cents_from_peak_to_peak_are_enough_for_a_wave_that_was_asked_for() -> None:
    assert read(wave(4.0, 4.0, seconds=5.0), STEP_S, WINDOW_S, 4.0).vibrato.present
    assert not read(wave(4.0, 3.0, seconds=5.0), STEP_S, WINDOW_S, 4.0).vibrato.present


def test_the_wave_is_taken_out_of_the_steadiness_and_the_tremble_beside_it_stays() -> None:
    tremble = np.random.default_rng(5).normal(0.0, 1.0, 300)
    found = read(wave(5.5, 25.0) + tremble, STEP_S, WINDOW_S)
    left = wave(5.5, 25.0) + tremble - found.wave_cents
    assert left.std() == pytest.approx(1.0, abs=0.15)


@pytest.mark.parametrize("rate_hz", [0.5, 1.2, 2.0])
def test_a_slow_waver_is_no_vibrato(rate_hz: float) -> None:
    found = read(wave(rate_hz, 15.0, seconds=4.0), STEP_S, WINDOW_S)
    assert not found.vibrato.present
    assert found.wave_cents.std() == 0.0


def test_noise_makes_no_vibrato() -> None:
    invented = sum(
        read(wander(4.0, 0.0, 50.0, sd, seed), STEP_S, WINDOW_S).vibrato.present
        for seed in range(40)
        for sd in (1.0, 3.0, 6.0)
    )
    assert invented == 0


def test_of_a_hundred_random_wavers_hardly_one_passes_for_vibrato() -> None:
    found = [read(wander(4.0, 0.2, 2.5, 8.0, seed), STEP_S, WINDOW_S).vibrato.present for seed in range(100)]
    assert sum(found) <= 5


def test_irregular_waves_are_vibrato_and_say_so() -> None:
    rng = np.random.default_rng(2)
    pieces = [
        20.0 * (1.0 + 0.2 * rng.normal()) * np.sin(2.0 * np.pi * np.arange(n) / n)
        for n in np.clip(np.rint(20.0 * (1.0 + 0.1 * rng.normal(size=30))), 8, None).astype(int)
    ]
    found = read(np.concatenate(pieces), STEP_S, WINDOW_S).vibrato
    assert found.present
    assert found.rate_cv == pytest.approx(0.1, abs=0.06)
    assert found.extent_cv == pytest.approx(0.2, abs=0.1)


def test_the_error_shrinks_with_the_number_of_cycles() -> None:
    tremble = wander(10.0, 0.5, 20.0, 2.0, 3)
    short = read(wave(5.0, 20.0, 1.5) + tremble[:150], STEP_S, WINDOW_S)
    long = read(wave(5.0, 20.0, 10.0) + tremble, STEP_S, WINDOW_S)
    assert abs((long.vibrato.extent_cents or 0.0) - 20.0) < 3.0 * long.errors["extent_cents"] + 0.5
    assert long.errors["extent_cents"] < short.errors["extent_cents"]


def test_a_window_as_long_as_the_wave_still_keeps_half_of_it() -> None:
    assert kept_of_swing(1.0 / WINDOW_S, WINDOW_S) == pytest.approx(0.5 * np.sinc(1.0 / WINDOW_S / 50.0), rel=1e-6)
    assert kept_of_swing(1e-6, WINDOW_S) == pytest.approx(1.0)


def test_what_the_window_keeps_is_what_a_hann_window_keeps() -> None:
    """Derived: the mean of a cosine under the window, by sums."""
    t_s = np.linspace(-WINDOW_S / 2.0, WINDOW_S / 2.0, 20_001)
    hann = np.cos(np.pi * t_s / WINDOW_S) ** 2
    for rate_hz in (2.0, 5.0, 9.0):
        kept = float((hann * np.cos(2.0 * np.pi * rate_hz * t_s)).sum() / hann.sum())
        assert kept_of_swing(rate_hz, WINDOW_S) / np.sinc(rate_hz / 50.0) == pytest.approx(kept, abs=1e-4)


def test_a_sine_has_the_spreads_that_textbooks_give_it() -> None:
    """Of 20 cents: SD 14.14, quartiles 28.28 apart, 5th to 95th percentile 39.51, median distance 14.14, mean 12.73."""
    phase = np.linspace(0.0, 2.0 * np.pi, 100_000, endpoint=False)
    line = 20.0 * np.sin(phase)
    low, high = np.percentile(line, [25, 75])
    fifth, rest = np.percentile(line, [5, 95])
    assert (line.std(), high - low, rest - fifth) == pytest.approx((14.142, 28.284, 39.507), abs=0.005)
    assert (np.median(np.abs(line)), np.abs(line).mean()) == pytest.approx((14.142, 12.732), abs=0.005)


@pytest.mark.parametrize("seconds", [0.0, 0.3, 0.7])
def test_a_part_too_short_for_waves_has_no_vibrato(seconds: float) -> None:
    assert read(wave(5.0, 20.0, seconds), STEP_S, WINDOW_S).vibrato == Vibrato(present=False)


def test_a_pitch_that_was_mostly_not_read_has_no_vibrato() -> None:
    line = wave(5.0, 20.0)
    line[::3] = np.nan
    assert not read(line, STEP_S, WINDOW_S).vibrato.present


def test_a_few_frames_without_pitch_do_not_matter() -> None:
    line = wave(5.0, 20.0)
    line[[10, 77, 78, 150]] = np.nan
    assert read(line, STEP_S, WINDOW_S).vibrato.extent_cents == pytest.approx(20.0, rel=0.03)


def test_without_a_pulse_only_a_players_own_rates_are_looked_for() -> None:
    assert rates(0.0) == (3.0, 9.0)
    assert rates(1.0) == pytest.approx((0.6, 1.6))
    assert rates(9.0)[1] == 9.5
