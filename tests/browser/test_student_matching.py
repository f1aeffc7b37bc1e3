"""Recordings and what was asked: which is which, as the phone's script tells it."""

from __future__ import annotations

import pytest

from tests.browser import day

MATCH = """async ([heard, asked]) => (await import('/static/assignments/matching.js')).match(heard, asked)"""


@pytest.fixture
def phone(device, site):
    day.student(day.TONES[:1])
    one = device()
    one.sign_in("pim")
    return one


@pytest.mark.parametrize(
    ("heard", "told"),
    [
        ([[60], [62], [64]], [[0], [1], [2]]),
        ([[60, 62, 64]], [[0, 1, 2]]),
        ([[60.3], [62.9], [63.8]], [[0], [1], [2]]),  # a wrong note among right ones
        ([[64], [60]], [[2], [0]]),  # in another order
        ([[60, 64]], [[0, 2]]),
        ([[62], None], [[1], None]),
        ([[60], [60]], [None, None]),  # twice the same: either may be meant
        ([[None]], [None]),
        ([[]], [None]),
        ([[72], [74], [76]], [None, None, None]),
    ],
)
def test_recordings_are_laid_beside_what_was_asked(phone, heard, told):
    asked = [{"slot": slot, "sounding_midi": midi} for slot, midi in enumerate((60, 62, 64))]
    assert phone.page.evaluate(MATCH, [heard, asked]) == told
