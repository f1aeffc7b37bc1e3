"""Real alto takes with hum under them, with one channel turned over, and asked for as what they are not."""

from pathlib import Path

import numpy as np
import pytest
from scipy.signal import resample_poly

from tests.reference.channels import file_of
from tests.reference.hearing import hear as hear_samples
from tests.reference.hearing import hear_file
from tests.reference.sweeps.hum import hum
from tests.reference.sweeps.real import decoded
from tests.reference.takes import take


@pytest.mark.parametrize("mains_hz", [50.0, 60.0])
@pytest.mark.parametrize("short", ["a2", "b", "i6"])
def test_hum_under_a_take_adds_no_tone_and_moves_none(short: str, mains_hz: float) -> None:
    """With the partials of a rectifier, 26 dB under the middle one of the take's own tones."""
    sound, rate_hz = decoded(take(short).path)
    sound = resample_poly(sound, 24_000 // 300, rate_hz // 300)
    clean = hear_samples(sound, instrument="alto")
    under_dbfs = float(np.median([tone.level_db for tone in clean.tones])) - 26.0
    heard = hear_samples(sound + hum(len(sound) / 24_000, mains_hz, "rectifier", under_dbfs), instrument="alto")
    assert [tone.written_midi for tone in heard.tones] == [tone.written_midi for tone in clean.tones]
    off = [abs(one.pitch_cents - other.pitch_cents) for one, other in zip(heard.tones, clean.tones, strict=True)]
    assert np.percentile(off, 95) <= 2.0
    both = 10.0 ** (clean.capture.noise_floor_dbfs / 10.0) + 10.0 ** (under_dbfs / 10.0)
    assert heard.capture.noise_floor_dbfs == pytest.approx(10.0 * np.log10(both), abs=1.0)


@pytest.mark.parametrize("short", ["a2", "d", "e"])
def test_a_take_whose_channels_are_mirrored_is_heard_as_in_one(short: str, tmp_path: Path) -> None:
    """As some cables and phones make it: the second channel is the first one turned over."""
    real = take(short)
    sound, rate_hz = decoded(real.path)
    shape = {"shape": real.shape}
    mirrored = hear_file(file_of(tmp_path / "take.mka", sound, -sound, rate_hz=rate_hz), instrument="alto", **shape)
    assert mirrored.capture.reasons == real.measured().capture.reasons
    assert mirrored.capture.noise_floor_dbfs == pytest.approx(real.measured().capture.noise_floor_dbfs, abs=0.1)
    for one, other in zip(mirrored.tones, real.measured().tones, strict=True):
        assert (one.written_midi, one.shape.met) == (other.written_midi, other.shape.met)
        assert one.level_db == pytest.approx(other.level_db, abs=0.01)
        assert one.pitch_cents == pytest.approx(other.pitch_cents, abs=0.05)


@pytest.mark.parametrize("short", ["e", "f"])
def test_shapes_measured_as_plain_tones_are_blamed_on_no_phone(short: str) -> None:
    assert hear_file(take(short).path, instrument="alto", shape="sustained").capture.reasons == ()
