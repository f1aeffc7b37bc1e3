"""Level: K-weighting against ITU-R BS.1770 (anchors, the 48 kHz table), pyloudnorm and scipy.

Sources: ITU-R BS.1770-5 annex 1, tables 1 and 2 (coefficients at 48 kHz; the last digits of the high-pass's a2 from
memory) and its anchor: a 997 Hz sine at 0 dBFS in one channel reads -3.01 LKFS. AES17: a full-scale sine's RMS is
3.01 dB under full scale. pyloudnorm 0.2 (its K filter lies 0.04 dB under the table). The ungated 100 ms windows are
the product's own choice.
"""

from __future__ import annotations

import numpy as np
import pyloudnorm
import pytest
from scipy.signal import freqz_sos, sosfilt

from analysis.core.level import Envelopes, k_weighting
from tests.reference.loudness import integrated, loudness_of, weighted_blocks
from tests.reference.signals import in_a_row, sine, white

TABLE_48K = np.array(  # BS.1770, tables 1 and 2
    [
        [1.53512485958697, -2.69169618940638, 1.19839281085285, 1.0, -1.69065929318241, 0.73248077421585],
        [1.0, -2.0, 1.0, 1.0, -1.99004745483398, 0.99007225036621],
    ]
)
# dB of the table's curve by its own closed form |H|, evaluated at these frequencies.
K_CURVE = {31.5: -7.79, 63: -2.66, 100: -1.13, 125: -0.73, 138.6: -0.59, 250: -0.15, 500: 0.04, 1000: 0.70, 2000: 3.07}
K_CURVE |= {4000: 3.97, 8000: 4.04}


def response_db(sections: np.ndarray, f_hz: np.ndarray, rate_hz: int) -> np.ndarray:
    _, response = freqz_sos(sections, worN=2 * np.pi * f_hz / rate_hz)
    return 20 * np.log10(np.abs(response))


def read_level(samples: np.ndarray, rate_hz: int) -> float:
    """Of all but the first second, in which the filter settles."""
    return float(loudness_of(np.mean(weighted_blocks([samples], rate_hz)[200:])))


def test_at_48_khz_the_filter_is_the_table():
    f_hz = np.geomspace(20, 20_000, 400)
    np.testing.assert_allclose(
        response_db(k_weighting(48_000), f_hz, 48_000), response_db(TABLE_48K, f_hz, 48_000), atol=1e-3
    )


@pytest.mark.parametrize(("rate_hz", "tolerance_db"), [(24_000, 0.025), (44_100, 0.002)])
def test_at_other_rates_the_filter_stays_within_hundredths_of_the_table(rate_hz, tolerance_db):
    f_hz = np.geomspace(100, 8_000, 400)
    difference = response_db(k_weighting(rate_hz), f_hz, rate_hz) - response_db(TABLE_48K, f_hz, 48_000)
    assert np.abs(difference).max() < tolerance_db


@pytest.mark.parametrize(("f_hz", "expected_db"), K_CURVE.items())
def test_the_curve_passes_through_the_printed_values(f_hz, expected_db):
    assert response_db(k_weighting(24_000), np.array([float(f_hz)]), 24_000)[0] == pytest.approx(expected_db, abs=0.02)


@pytest.mark.parametrize(
    ("f_hz", "peak_dbfs", "channels", "expected"),
    [(997, 0, 1, -3.01), (997, 0, 2, 0.0), (997, -23, 2, -23.0), (1000, -23, 2, -22.993), (997, -20, 1, -23.01)],
)
@pytest.mark.parametrize(("rate_hz", "tolerance_db"), [(24_000, 0.02), (48_000, 0.01)])
def test_anchors_of_bs_1770_are_met(f_hz, peak_dbfs, channels, expected, rate_hz, tolerance_db):
    blocks = weighted_blocks([sine(f_hz, peak_dbfs, 5, rate_hz)] * channels, rate_hz)
    assert loudness_of(blocks[200:].mean()) == pytest.approx(expected, abs=tolerance_db)


def test_plain_power_of_a_full_scale_sine_is_three_decibels_under_full_scale():  # AES17
    envelopes = Envelopes(24_000)
    envelopes.add(sine(1_000, 0, 2, 24_000).astype(np.float32))
    assert 10 * np.log10(envelopes.powers()[0].mean()) == pytest.approx(-3.0103, abs=1e-3)


@pytest.mark.parametrize("f_hz", [69.3, 138.6, 440, 880, 2_000, 6_000])
def test_pyloudnorm_hears_the_same_level(f_hz):
    samples = sine(f_hz, -20, 6, 48_000)
    theirs = pyloudnorm.Meter(48_000, block_size=0.4).integrated_loudness(samples)
    assert integrated(weighted_blocks([samples], 48_000)) == pytest.approx(theirs, abs=0.06)
    assert read_level(sine(f_hz, -20, 6, 24_000), 24_000) == pytest.approx(theirs, abs=0.08)


def test_scipy_filters_noise_with_the_table_to_the_same_mean_square():
    noise = 0.1 * white(10, 48_000)
    theirs = float(loudness_of(np.mean(sosfilt(TABLE_48K, noise)[48_000:] ** 2)))
    assert read_level(noise, 48_000) == pytest.approx(theirs, abs=2e-3)


def test_ten_decibels_more_read_ten_decibels_more():
    softer, louder = (read_level(sine(300, db, 3, 24_000), 24_000) for db in (-50, -40))
    assert louder - softer == pytest.approx(10, abs=1e-4)


def test_lengths_of_the_stretches_do_not_change_the_envelopes():
    noise = white(2, 24_000).astype(np.float32)
    whole, pieces = Envelopes(24_000), Envelopes(24_000)
    whole.add(noise)
    for part in np.split(noise, [7, 120, 121, 5_000, 30_000]):
        pieces.add(part)
    np.testing.assert_allclose(whole.powers()[1], pieces.powers()[1], rtol=1e-6, atol=1e-15)


def test_a_gate_would_hide_the_soft_end_of_a_swell_and_so_the_level_is_not_gated():
    """The reason given in the guide, shown: BS.1770's relative gate reads 15 dB of the truth away."""
    swell = in_a_row(440, [(-50, 3), (-20, 1), (-50, 3)], 24_000)
    blocks = weighted_blocks([swell], 24_000)
    assert integrated(blocks) > loudness_of(blocks.mean()) + 5
