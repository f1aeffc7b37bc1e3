"""A second pitch beside the first: known sums of cosines in, its pitch and power out."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.second_series import EVERY_FRAMES, FIRST_FRAME, SecondSeries

RATE_HZ, HOP, WINDOW, FRAMES = 24_000, 240, 1_536, 256


def series(f0_hz: float, amplitude: float) -> np.ndarray:
    """Eight equal partials over the length of one stretch: a mean square of 4 amplitude^2."""
    t_s = np.arange(HOP * (FRAMES + 1) + WINDOW) / RATE_HZ
    partial = np.arange(1, 9)[:, None]
    whole: np.ndarray = amplitude * np.cos(2 * np.pi * f0_hz * partial * t_s + partial**2).sum(axis=0)
    return whole


def looked(sound: np.ndarray, first_hz: float) -> tuple[np.ndarray, np.ndarray]:
    search = SecondSeries(WINDOW, HOP, RATE_HZ)
    search.look(sound.astype(np.float32), np.full(FRAMES, first_hz))
    return search.seen()


@pytest.mark.parametrize("other_hz", [233.1, 261.6, 329.6, 370.0])
@pytest.mark.parametrize("other_db", [0, -12, -18])
def test_a_second_series_has_its_own_pitch(other_hz: float, other_db: float) -> None:
    found_hz, power = looked(series(220.0, 0.1) + series(other_hz, 0.1 * 10 ** (other_db / 20)), 220.0)
    assert len(found_hz) == len(range(FIRST_FRAME, FRAMES, EVERY_FRAMES))
    assert np.abs(1200 * np.log2(found_hz / other_hz)) == pytest.approx(0, abs=15)
    heard_db = 10 * np.log10(power / 0.04) - other_db
    assert (heard_db < 1.0).all()  # never more than there is
    assert (heard_db > -6.0).all()  # nor less than the quarter that the first one's partials leave free


@pytest.mark.parametrize("other_hz", [110.0, 440.0, 660.0])
def test_what_belongs_to_the_first_is_no_second(other_hz: float) -> None:
    found_hz, power = looked(series(220.0, 0.1) + series(other_hz, 0.02), 220.0)
    assert not found_hz.any()
    assert not power.any()


def test_noise_is_no_second() -> None:
    noise = np.random.default_rng(0).standard_normal(HOP * (FRAMES + 1) + WINDOW)
    found_hz, _ = looked(series(220.0, 0.1) + 0.05 * noise, 220.0)
    assert np.count_nonzero(found_hz) <= 2  # one look in many, never four in a row


def test_silence_holds_none() -> None:
    found_hz, power = looked(np.zeros(HOP * (FRAMES + 1) + WINDOW), 220.0)
    assert not found_hz.any()
    assert not power.any()


def test_looks_come_in_the_order_of_the_stretches_however_many_wait_together() -> None:
    """Both pitches turn from stretch to stretch; six of them are more than are searched at once."""
    search, others_hz = SecondSeries(WINDOW, HOP, RATE_HZ), (233.1, 329.6, 0.0, 261.6, 370.0, 277.2)
    for other_hz in others_hz:
        sound = series(220.0, 0.1) + (series(other_hz, 0.05) if other_hz else 0.0)
        search.look(sound.astype(np.float32), np.full(FRAMES, 220.0))
    found_hz, _ = search.seen()
    looks = len(range(FIRST_FRAME, FRAMES, EVERY_FRAMES))
    assert found_hz == pytest.approx(np.repeat(others_hz, looks), rel=0.01)


def test_nothing_looked_at_is_nothing_seen() -> None:
    found_hz, power = SecondSeries(WINDOW, HOP, RATE_HZ).seen()
    assert (len(found_hz), len(power)) == (0, 0)
