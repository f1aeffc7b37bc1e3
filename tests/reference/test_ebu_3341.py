"""EBU Tech 3341 minimum-requirement signals 1-6 and 9-14, synthesised, read through the product's K-weighted envelopes.

Source: EBU Tech 3341, table of minimum requirement test signals (definitions of 1-5 found in a public meter's test
suite, 6 and 9-14 from memory; all readings and tolerances found there). Stereo 1 kHz sines, levels are peaks in dBFS.
Cases 7 and 8 need recorded programme that may not be passed on; 15-19 (true peak) are in test_true_peak.py.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.reference.loudness import integrated, momentary, short_term, weighted_blocks
from tests.reference.signals import in_a_row, sine

RATE_HZ = 24_000  # what the product measures at
TOLERANCE = 0.1


def stereo(parts):
    tone = in_a_row(1_000, parts, RATE_HZ)
    return weighted_blocks([tone, tone], RATE_HZ)


@pytest.mark.parametrize(("case", "level"), [(1, -23), (2, -33)])
def test_a_steady_tone_reads_its_level_in_every_window(case, level):
    blocks = stereo([(level, 20)])
    assert integrated(blocks) == pytest.approx(level, abs=TOLERANCE)
    assert np.abs(momentary(blocks)[5:] - level).max() < TOLERANCE
    assert np.abs(short_term(blocks)[5:] - level).max() < TOLERANCE


@pytest.mark.parametrize(
    ("case", "parts"),
    [
        (3, [(-36, 10), (-23, 60), (-36, 10)]),
        (4, [(-72, 10), (-36, 10), (-23, 60), (-36, 10), (-72, 10)]),
        (5, [(-26, 20), (-20, 20.1), (-26, 20)]),
    ],
)
def test_softer_surroundings_do_not_pull_a_programme_down(case, parts):
    assert integrated(stereo(parts)) == pytest.approx(-23, abs=TOLERANCE)


def test_case_6_five_channels_are_weighted_and_summed():
    left, centre, surround = (sine(1_000, level, 20, RATE_HZ) for level in (-28, -24, -30))
    blocks = weighted_blocks([left, left, centre, surround, surround], RATE_HZ)
    assert integrated(blocks) == pytest.approx(-23, abs=TOLERANCE)


def test_case_9_three_seconds_average_a_pattern_of_three_seconds():
    read = short_term(stereo([(-20, 1.34), (-30, 1.66)] * 5))
    assert np.abs(read - -23).max() < TOLERANCE


@pytest.mark.parametrize("i", range(1, 21))
def test_case_10_a_tone_of_three_seconds_is_read_in_full_wherever_it_starts(i):
    read = short_term(stereo([(None, i * 0.15), (-23, 3), (None, 1)]))
    assert read.max() == pytest.approx(-23, abs=TOLERANCE)


def test_case_11_twenty_tones_of_three_seconds_read_one_decibel_apart():
    blocks = stereo([part for i in range(20) for part in ((None, i * 0.15), (-38 + i, 3), (None, 3 - i * 0.15))])
    per_segment = round(6 / 0.005)
    for i in range(20):
        segment = blocks[i * per_segment : (i + 1) * per_segment]
        assert short_term(segment).max() == pytest.approx(-38 + i, abs=TOLERANCE)


def test_case_12_four_tenths_average_a_pattern_of_four_tenths():
    read = momentary(stereo([(-20, 0.18), (-30, 0.22)] * 25), hop_s=0.005)
    assert np.abs(read[200:] - -23).max() < TOLERANCE


@pytest.mark.parametrize("i", range(1, 21))
def test_case_13_a_tone_of_four_tenths_is_read_in_full_wherever_it_starts(i):
    read = momentary(stereo([(None, i * 0.02), (-23, 0.4), (None, 1)]), hop_s=0.01)
    assert read.max() == pytest.approx(-23, abs=TOLERANCE)


def test_case_14_twenty_tones_of_four_tenths_read_one_decibel_apart():
    blocks = stereo([part for i in range(20) for part in ((None, i * 0.02), (-38 + i, 0.4), (None, 0.8 - i * 0.02))])
    per_segment = round(1.2 / 0.005)
    for i in range(20):
        segment = blocks[i * per_segment : (i + 1) * per_segment]
        assert momentary(segment, hop_s=0.005).max() == pytest.approx(-38 + i, abs=TOLERANCE)
