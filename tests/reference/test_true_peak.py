"""EBU Tech 3341 signals 15-19 (true peak): peaks between the samples, and what the product makes of them.

Source: EBU Tech 3341, cases 15-19 (definitions, readings and the tolerance +0.2/-0.4 dB found in a public meter's test
suite); true peak is the largest absolute value after fourfold oversampling (ITU-R BS.1770-5, annex 2). The product
itself reports clipping, not true peak: so its resampler is held to the readings, and its clipping check to silence on
signals that only look loud, because none of them was cut.
"""

from __future__ import annotations

import numpy as np
import pytest
import soxr

from analysis.decoding import Clipping

RATE_HZ = 48_000
CASES = {15: (4, 0.50, 0, -6.0), 16: (4, 0.50, 45, -6.0), 17: (6, 0.50, 60, -6.0), 18: (8, 0.50, 67.5, -6.0)}
CASES |= {19: (4, 1.41, 45, 3.0)}


def signal(case: int) -> np.ndarray:
    """A second of sine at a fraction of the rate, faded over 10 ms at both ends."""
    divider, amplitude, phase_degrees, _ = CASES[case]
    n = np.arange(RATE_HZ)
    fade = np.clip(np.minimum(n, n[::-1]) / (0.01 * RATE_HZ), 0, 1)
    return (amplitude * fade * np.sin(2 * np.pi * n / divider + np.radians(phase_degrees))).astype(np.float32)


@pytest.mark.parametrize("case", CASES)
def test_the_resampler_brings_out_the_peaks_between_the_samples(case):
    stream = soxr.ResampleStream(RATE_HZ, 4 * RATE_HZ, 1, dtype="float32", quality="HQ")  # as the decoder sets it
    peak = np.abs(stream.resample_chunk(signal(case), last=True)).max()
    assert -0.4 <= 20 * np.log10(peak) - CASES[case][3] <= 0.2


@pytest.mark.parametrize("case", CASES)
def test_a_loud_sine_that_was_not_cut_is_not_called_clipped(case):
    clipping = Clipping()
    clipping.look(signal(case)[None, :], 0.0, RATE_HZ)
    assert len(clipping.at_s()) < 3  # three places make a clipped take


def test_the_same_sine_cut_at_full_scale_is_called_clipped():
    clipping = Clipping()
    n = np.arange(RATE_HZ)
    clipping.look(
        np.clip(1.41 * np.sin(2 * np.pi * 440 * n / RATE_HZ), -1, 1).astype(np.float32)[None, :], 0.0, RATE_HZ
    )
    assert len(clipping.at_s()) > 800  # twice a cycle
