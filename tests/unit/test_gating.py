"""A noise gate, by what turns down in the pauses; and what else ends there by itself."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.core.gating import is_gated
from analysis.core.tones import Found
from tests.unit.made import BLOCK_S, frames, span

TONES, TONE_S, PAUSE_S = 5, 1.0, 1.2
FOUND = [Found(span(k * (TONE_S + PAUSE_S), k * (TONE_S + PAUSE_S) + TONE_S), 220.0) for k in range(TONES)]
Curve = Callable[[NDArray[np.float64]], NDArray[np.float64]]  # level in dB over seconds into a pause


def gated(pause: Curve, noise: dict[int, NDArray[np.float64]] | None = None) -> bool:
    at_s = (np.arange(round(TONES * (TONE_S + PAUSE_S) / BLOCK_S)) + 0.5) * BLOCK_S
    since_s = at_s % (TONE_S + PAUSE_S) - TONE_S
    level_db = np.where(since_s < 0.0, -20.0, np.minimum(-20.0, pause(since_s)))
    return is_gated(frames(), FOUND, level_db, noise or {})


def fading(since_s: NDArray[np.float64], to_db: float = -70.0) -> NDArray[np.float64]:
    return np.maximum(-20.0 - 300.0 * np.maximum(since_s, 0.0), to_db)


@pytest.mark.parametrize("shuts_s", [0.22, 0.4, 0.8])
def test_noise_that_goes_at_once_after_every_tone_was_gated(shuts_s: float) -> None:
    assert gated(lambda t: np.where(t < shuts_s, fading(t), np.maximum(-70.0 - 900.0 * (t - shuts_s), -110.0)))


def test_a_gate_is_seen_in_the_midst_of_a_tail() -> None:
    assert gated(lambda t: np.where(fading(t) > -55.0, fading(t), -110.0))


def test_an_even_fall_into_silence_is_no_gate() -> None:
    assert not gated(lambda t: fading(t, -140.0))
    assert not gated(fading)


def breath(since_s: NDArray[np.float64], before_db: float, after_db: float) -> NDArray[np.float64]:
    quiet = np.where(since_s < 0.5, np.maximum(fading(since_s), before_db), after_db)
    return np.where((since_s > 0.4) & (since_s < 0.8), -50.0, quiet)


def test_a_breath_that_ends_at_once_ends_in_the_noise_that_was_there_before() -> None:
    assert not gated(lambda t: breath(t, -70.0, -70.0))
    assert gated(lambda t: breath(t, -70.0, -110.0))  # the gate had stayed open until then


def test_noise_that_is_there_and_gone_in_one_pause_was_gated() -> None:
    gone = {number: np.array([-110.0, -109.0, -72.0, -110.0]) for number in range(TONES - 1)}
    assert gated(fading, gone)
    assert not gated(fading, {number: np.array([-72.0, -71.0, -66.0]) for number in gone})


def test_what_lies_under_sixteen_bits_tells_nothing() -> None:
    assert not gated(lambda t: np.where(t < 0.4, fading(t, -82.0), -140.0))
