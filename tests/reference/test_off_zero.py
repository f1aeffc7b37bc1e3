"""A microphone that stands off zero: nobody hears it, so nothing is measured of it."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.level import Envelopes
from tests.reference.hearing import hear
from tests.reference.signals import between_silences, edged, harmonic, reedy, scaled_to

RATE_HZ = 24_000
TONE = edged(scaled_to(harmonic(220.0, reedy(), 2.0, RATE_HZ), -30.0), RATE_HZ)


@pytest.mark.parametrize("off_zero", [0.001, -0.03, 0.3])
def test_a_tone_is_read_as_without_it(off_zero: float) -> None:
    sound = between_silences(TONE, RATE_HZ)
    (plain,), (shifted,) = hear(sound).tones, hear(sound + off_zero).tones
    assert shifted.pitch_cents == pytest.approx(plain.pitch_cents, abs=0.01)
    assert shifted.level_db == pytest.approx(plain.level_db, abs=0.01)
    assert (shifted.start_s, shifted.end_s) == pytest.approx((plain.start_s, plain.end_s), abs=0.005)
    assert hear(sound + off_zero).capture.noise_floor_dbfs == pytest.approx(-80.0, abs=0.2)


def test_silence_that_stands_off_zero_is_silent() -> None:
    assert hear(np.full(3 * RATE_HZ, 0.2)).capture.reasons == ("silent",)


def test_a_low_tone_without_a_pause_loses_nothing_of_its_level() -> None:
    envelopes = Envelopes(RATE_HZ)
    low = scaled_to(harmonic(51.9, [1.0], 1.013, RATE_HZ), -20.0)
    envelopes.add(low.astype(np.float32))
    plain, _ = envelopes.powers()
    whole = low[: len(plain) * 120]
    assert 10 * np.log10(plain.mean()) == pytest.approx(10 * np.log10(np.mean(whole**2)), abs=0.01)
