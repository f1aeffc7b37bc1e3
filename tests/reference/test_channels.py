"""Files of several channels: one is listened to, so that nothing is lost between two that don't agree.

Sounded by formulas and by FFmpeg's pan filter; what must be heard is what the same sound in one channel gives.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.core.records import Measurement
from tests.reference.channels import RATE_HZ, file_of
from tests.reference.filters import through
from tests.reference.hearing import hear_file
from tests.reference.signals import Samples, between_silences, edged, harmonic, reedy, scaled_to, sine, white

TONE = edged(scaled_to(harmonic(220.0, reedy(), 2.5, RATE_HZ), -25.0), RATE_HZ)
TAKE = np.concatenate([between_silences(TONE, RATE_HZ, floor_dbfs=-75.0) for _ in range(2)])
LATER = round(0.00044 * RATE_HZ)  # samples: 15 cm between two microphones


def heard(tmp_path: Path, *channels: Samples, **how: str) -> Measurement:
    return hear_file(file_of(tmp_path / "take.mka", *channels, **how), instrument="alto")


def alone(tmp_path: Path, samples: Samples = TAKE) -> Measurement:
    return hear_file(file_of(tmp_path / "alone.mka", samples, layout="mono"), instrument="alto")


def alike(one: Measurement, other: Measurement, level_db: float = 0.02) -> None:
    assert len(one.tones) == len(other.tones) == 2
    for a, b in zip(one.tones, other.tones, strict=True):
        assert a.level_db == pytest.approx(b.level_db, abs=level_db)
        assert a.pitch_cents == pytest.approx(b.pitch_cents, abs=0.05)
        assert a.colour.centroid_harmonics == pytest.approx(b.colour.centroid_harmonics, rel=0.01)
        assert (a.start_s, a.end_s) == pytest.approx((b.start_s, b.end_s), abs=0.006)
    assert one.capture.reasons == other.capture.reasons == ()


@pytest.mark.parametrize("share", [-1.0, -0.999, -0.8, -0.5, 0.0, 0.1], ids=lambda share: f"{share:g}")
@pytest.mark.parametrize("turned", [False, True], ids=["left", "right"])
def test_a_second_channel_takes_nothing_from_the_first(tmp_path: Path, share: float, turned: bool) -> None:
    """Mirrored, mirrored in part, silent, or nearly so: -1 is opposite polarity."""
    channels = [TAKE, share * TAKE]
    alike(heard(tmp_path, *(channels[::-1] if turned else channels)), alone(tmp_path))


def test_two_channels_alike_give_exactly_what_one_gives(tmp_path: Path) -> None:
    both, one = heard(tmp_path, TAKE, TAKE), alone(tmp_path)
    assert (both.tones, both.capture) == (one.tones, one.capture)
    assert (both.audio.channels, one.audio.channels) == (2, 1)


def test_two_microphones_that_stand_apart_leave_every_partial_where_it_was(tmp_path: Path) -> None:
    """Added, a delay of 0.44 ms would take away all round 1140 Hz: |cos(pi f 0.00044)|, the fifth partial of 220 Hz."""
    alike(heard(tmp_path, TAKE, np.roll(TAKE, LATER)), alone(tmp_path))


def test_a_full_scale_sine_in_one_channel_reads_3_01_under_full_scale(tmp_path: Path) -> None:
    """ITU-R BS.1770: 997 Hz at 0 dBFS in the left, centre or right channel reads -3.01."""
    tone = sine(997.0, 0.0, 3.0, RATE_HZ)
    for channels in ((tone, 0.0 * tone), (0.0 * tone, tone)):
        (one,) = hear_file(file_of(tmp_path / "take.mka", *channels), instrument="soprano").tones
        assert one.level_db == pytest.approx(-3.01, abs=0.03)


def test_of_six_channels_the_one_with_the_horn_is_heard(tmp_path: Path) -> None:
    hiss = [1e-5 * white(len(TAKE) / RATE_HZ, RATE_HZ, seed) for seed in range(5)]
    alike(heard(tmp_path, *hiss[:2], TAKE, *hiss[2:], layout="5.1"), alone(tmp_path))


@pytest.mark.parametrize("hiss_dbfs", [-70.0, -60.0])
def test_a_channel_that_only_hisses_is_left_as_soon_as_the_other_sounds(tmp_path: Path, hiss_dbfs: float) -> None:
    """It is louder than the horn's channel for three seconds, until the horn begins."""
    before = 1e-4 * white(3.0, RATE_HZ, 4)
    take = np.concatenate((before, TAKE))
    hiss = 10 ** (hiss_dbfs / 20) * white(len(take) / RATE_HZ, RATE_HZ, 5)
    alike(heard(tmp_path, hiss, take), alone(tmp_path, take))


def test_a_horn_that_goes_over_to_the_other_channel_is_heard_in_both(tmp_path: Path) -> None:
    silence = np.zeros(5 * RATE_HZ)
    take = np.concatenate((TAKE, silence, TAKE))
    there = np.arange(len(take)) < len(TAKE) + len(silence) // 2
    levels = [tone.level_db for tone in heard(tmp_path, take * there, take * ~there).tones]
    assert levels == pytest.approx([tone.level_db for tone in alone(tmp_path, take).tones], abs=0.02)


def test_a_channel_that_stands_off_zero_is_not_taken_for_sound(tmp_path: Path) -> None:
    alike(heard(tmp_path, np.full(len(TAKE), 0.4), TAKE), alone(tmp_path))


@pytest.mark.parametrize("codec", ["flac", "aac", "libopus"])
def test_what_ffmpeg_mirrors_is_heard_through_every_codec(tmp_path: Path, codec: str) -> None:
    """Two channels, by FFmpeg's pan, one of them turned over; the codecs know mirrored sound as pure difference."""
    left, right = (through(TAKE, RATE_HZ, ("pan", {"args": f"mono|c0={sign}*c0"})) for sign in ("1", "-1"))
    alike(heard(tmp_path, left, right, codec=codec), alone(tmp_path), level_db=0.2)


def test_where_nothing_sounds_in_either_channel_nothing_is_heard(tmp_path: Path) -> None:
    silence, noise = np.zeros(3 * RATE_HZ), 0.01 * white(3.0, RATE_HZ)
    assert heard(tmp_path, silence, silence).capture.reasons == ("silent",)
    assert heard(tmp_path, noise, -noise).capture.reasons[:1] == ("no_tone_found",)


def test_a_channel_that_is_clipped_and_not_listened_to_spoils_nothing(tmp_path: Path) -> None:
    """A short knock at the ceiling in a channel that holds nothing else."""
    knocks = np.zeros(len(TAKE))
    for at_s in (0.9, 1.4, 1.9, 2.4):
        knocks[round(at_s * RATE_HZ) :][:40] = 0.999
    assert heard(tmp_path, TAKE, knocks).capture.clipped is False
