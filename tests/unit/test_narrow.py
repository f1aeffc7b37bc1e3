"""A telephone's band: an edge that no horn and no room has."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.core.bands import OVER_TELEPHONE
from analysis.core.narrow import is_narrow
from analysis.core.records import AudioInfo, Frames, Tone
from tests.unit.made import frames, tone

TONE_S, PAUSE_S = 2.0, 1.0
AUDIO = AudioInfo(18.0, 48_000, 1, "flac", "0" * 64)


def sounded(f0_hz: Sequence[float], edge_db: float, noise_edge_db: float = 0.0) -> tuple[Frames, list[Tone]]:
    """Tones with so much less over the edge than under it, and such pauses."""
    plain = frames(len(f0_hz) * (TONE_S + PAUSE_S))
    at_s = (4 + 8 * np.arange(len(plain.bands))) * 0.01
    inside = at_s % (TONE_S + PAUSE_S) < TONE_S
    bands = np.full((len(at_s), 8), 1e-9)
    bands[inside] = 1e-6
    bands[inside, OVER_TELEPHONE:] *= 10.0 ** (-edge_db / 10.0)
    bands[~inside, OVER_TELEPHONE:] *= 10.0 ** (-noise_edge_db / 10.0)
    starts_s = [k * (TONE_S + PAUSE_S) for k in range(len(f0_hz))]
    tones = [
        tone(start_s=s, end_s=s + TONE_S, steady_start_s=s + 0.3, steady_end_s=s + TONE_S - 0.1, f0_hz=f0)
        for s, f0 in zip(starts_s, f0_hz, strict=True)
    ]
    return replace(plain, bands=bands.astype(np.float32)), tones


HIGH, LOW, BETWEEN = (294.0, 330.0, 392.0, 440.0, 587.0), (69.3, 82.4, 98.0, 110.0, 123.5), (147.0, 165.0, 196.0, 247.0)


@pytest.mark.parametrize("f0_hz", [HIGH, LOW], ids=["high", "low"])
def test_nothing_over_the_edge_in_tone_after_tone_is_a_telephone(f0_hz: Sequence[float]) -> None:
    assert is_narrow(*sounded(f0_hz, 50.0), AUDIO)
    assert not is_narrow(*sounded(f0_hz, 25.0), AUDIO)


def test_tones_of_twenty_partials_end_there_by_themselves() -> None:
    assert not is_narrow(*sounded(BETWEEN, 50.0), AUDIO)
    assert is_narrow(*sounded(BETWEEN, 50.0, noise_edge_db=30.0), AUDIO)  # but noise does not


def test_a_high_note_without_a_partial_under_the_edge_tells_nothing() -> None:
    assert not is_narrow(*sounded([1_318.5] * 6, 50.0), AUDIO)


def test_three_tones_are_too_few_and_a_slow_file_is_narrow_in_any_case() -> None:
    assert not is_narrow(*sounded(HIGH[:3], 50.0), AUDIO)
    assert is_narrow(*sounded(HIGH, 0.0), replace(AUDIO, sample_rate_hz=8_000))
