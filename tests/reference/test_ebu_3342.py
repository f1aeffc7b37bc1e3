"""EBU Tech 3342 (loudness range) signals 1-4, synthesised, read through the product's K-weighted envelopes.

Source: EBU Tech 3342, minimum requirement test signals (signals from memory; readings found in a public meter's test
suite): stereo 1 kHz sines, 20 s each. It shows that level differences come through whole, from -50 to -15 dBFS.
"""

from __future__ import annotations

import pytest

from tests.reference.loudness import loudness_range, weighted_blocks
from tests.reference.signals import in_a_row


@pytest.mark.parametrize(
    ("levels", "expected"), [((-20, -30), 10), ((-20, -15), 5), ((-40, -20), 20), ((-50, -35, -20, -35, -50), 15)]
)
def test_the_range_between_soft_and_loud_is_read_to_the_decibel(levels, expected):
    tone = in_a_row(1_000, [(level, 20) for level in levels], 24_000)
    assert loudness_range(weighted_blocks([tone, tone], 24_000)) == pytest.approx(expected, abs=1)
