"""Harmonics over noise, and what the recording cannot tell about it."""

from __future__ import annotations

from math import log10

import pytest

from analysis.core.noise import CEILING_DB, ceiling_db, read
from tests.unit.made import frames, span


@pytest.mark.parametrize("hnr_db", [0.0, 10.0, 20.0, 40.0])
def test_power_over_power_is_the_ratio(hnr_db: float) -> None:
    assert read(frames(noise_db=-20.0 - hnr_db), span()).hnr_db == pytest.approx(hnr_db, abs=0.01)


def test_99_percent_periodic_is_20_db() -> None:
    """Boersma 1993: 10 log10(r / (1 - r))."""
    for share, hnr_db in ((0.5, 0.0), (0.8, 6.02), (0.9, 9.54), (0.95, 12.79), (0.99, 19.96), (0.999, 30.0)):
        take = frames(level_db=lambda t, share=share: t * 0.0 + _db(share), noise_db=_db(1.0 - share), floor_db=-200.0)
        assert read(take, span()).hnr_db == pytest.approx(hnr_db, abs=0.01)


def _db(power: float) -> float:
    return 10.0 * log10(power)


def test_nothing_is_claimed_beyond_what_the_method_can_tell() -> None:
    assert read(frames(noise_db=-150.0), span()).hnr_db == CEILING_DB


def test_a_codecs_own_noise_hides_a_cleaner_tone() -> None:
    clean = read(frames(noise_db=-55.0), span(), "opus", 32_000)
    assert clean.hnr_db == pytest.approx(35.0, abs=0.1)
    assert clean.hidden == {"hnr_db": "codec_hides_noise"}
    assert read(frames(noise_db=-35.0), span(), "opus", 32_000).hidden == {}
    assert read(frames(noise_db=-55.0), span(), "flac").hidden == {}


def test_a_rooms_own_noise_hides_the_tones() -> None:
    assert read(frames(noise_db=-40.0), span(), floor_power=1e-4).hidden == {"hnr_db": "room_hides_noise"}
    assert read(frames(noise_db=-40.0), span(), floor_power=1e-7).hidden == {}


@pytest.mark.parametrize(
    ("codec", "bit_rate", "ceiling"),
    [
        ("opus", 128_000, 32.0),
        ("opus", 32_000, 27.0),
        ("opus", 16_000, 23.0),
        ("aac", 64_000, 31.0),
        ("AAC", 128_000, 34.0),
    ],
)
def test_fewer_bits_let_less_through(codec: str, bit_rate: int, ceiling: float) -> None:
    assert ceiling_db(codec, bit_rate) == ceiling


def test_an_unknown_bit_rate_is_taken_for_the_lowest_and_an_unknown_codec_for_none() -> None:
    assert ceiling_db("opus", None) == 23.0
    assert ceiling_db("pcm_s16le", None) == CEILING_DB


def test_a_tone_of_a_few_frames_has_no_ratio() -> None:
    assert read(frames(), span(starts_s=1.0, ends_s=1.33)).hnr_db is None
    silent = frames()
    silent.tonal_power[:] = 0.0
    assert read(silent, span()).hnr_db is None
