"""Blocks of a tenth of a second: which hold the mains' hum and nothing else."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from analysis.core.hum import blocks, is_mains

LOWEST_HZ = 69.296  # a baritone's


def hums(*stretches: tuple[int, float, float]) -> NDArray[np.bool_]:
    """Stretches of so many blocks, of one pitch in Hz and one level in dBFS."""
    counts = [count for count, _, _ in stretches]
    f0_hz, level_db = (np.repeat([stretch[place] for stretch in stretches], counts) for place in (1, 2))
    return blocks(np.repeat(f0_hz[:, None], 10, axis=1), 10.0 ** (level_db / 10.0), LOWEST_HZ)


@pytest.mark.parametrize("f_hz", [50.0, 60.0, 100.0, 120.0, 150.0, 180.0, 240.0, 50.3, 59.5])
def test_multiples_of_the_mains_are_theirs(f_hz: float) -> None:
    assert is_mains(np.array([f_hz])).all()


def test_no_note_of_a_horn_in_tune_is() -> None:
    """Every semitone from the lowest note of a bass to the octave over it and beyond, by 440 x 2^(n/12)."""
    assert not is_mains(440.0 * 2.0 ** ((np.arange(30, 100) - 69) / 12.0)).any()


@pytest.mark.parametrize("f_hz", [60.0, 120.0, 57.0], ids=["60 Hz", "120 Hz", "the skirt of 50 Hz"])
def test_what_lies_under_the_whole_take_is_hum(f_hz: float) -> None:
    assert (
        hums((10, f_hz, -60.0), (20, 92.5, -30.0), (10, f_hz, -59.0)).tolist()
        == [True] * 10 + [False] * 20 + [True] * 10
    )


def test_a_tone_on_120_hz_over_a_quieter_pause_is_none() -> None:
    assert not hums((10, 400.0, -70.0), (20, 120.0, -50.0), (10, 333.0, -70.0)).any()


def test_a_steady_note_under_the_whole_take_is_none() -> None:
    """A drone, a fan: whatever is no multiple of the mains may be somebody's tone."""
    assert not hums((10, 87.307, -60.0), (20, 116.541, -30.0)).any()


def test_a_tone_from_end_to_end_of_a_take_is_none() -> None:
    assert not hums((30, 120.0, -30.0)).any()


def test_hum_alone_is_hum() -> None:
    assert hums((30, 120.0, -55.0)).all()


def test_the_first_blocks_may_be_a_recorder_fading_in() -> None:
    assert hums((2, 120.0, -90.0), (28, 120.0, -55.0), (10, 92.5, -30.0))[2:30].all()


def test_of_next_to_nothing_nothing_is_said() -> None:
    assert hums((2, 120.0, -60.0)).tolist() == [False, False]
