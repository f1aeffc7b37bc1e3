"""How far a number could be off: the stated error covers the true one, and is not stated for comfort."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis.core.confidence import codec_pitch, level_errors, pitch_errors, place_errors
from analysis.core.measure import measure
from analysis.core.records import AudioInfo, Release, Request, Span, Tone, Vibrato
from analysis.synthesis import Faults, Place, Room, ToneSpec, Truth, render

SPAN = Span(0.0, 4.0, 0.4, 3.9)
INFO = AudioInfo(10.0, 48_000, 1, "flac", "")


def heard(place: Place, faults: Faults, seed: int) -> list[tuple[Tone, Truth]]:
    specs = [ToneSpec(written_midi=w, seconds=2.0, faults=faults) for w in range(58, 90, 3)]
    samples, truths = render(specs, place=place, seed=seed)
    tones = measure([resample_poly(samples, 1, 2).astype(np.float32)], lambda: INFO, Request()).tones
    return list(zip(tones, truths, strict=True))


@pytest.mark.parametrize(
    ("place", "faults"),
    [
        (Place(noise_dbfs=-75.0), Faults(unsteady_cents=1.0)),
        (Place(noise_dbfs=-45.0), Faults(unsteady_cents=2.0)),
        (Place(noise_dbfs=-60.0, room=Room(direct_to_reverberant_db=6.0)), Faults(unsteady_cents=3.0)),
        (Place(noise_dbfs=-60.0), Faults(hnr_db=15.0)),
    ],
    ids=["quiet", "noisy", "room", "airy"],
)
@pytest.mark.parametrize(
    ("number", "within"),
    [("pitch_cents", 3.0), ("start_s", 3.0), ("pitch_spread_cents", 4.0)],
    ids=lambda value: str(value),
)
def test_nineteen_of_twenty_true_values_lie_within_the_stated_error(
    place: Place, faults: Faults, number: str, within: float
) -> None:
    both = [pair for seed in (1, 2) for pair in heard(place, faults, seed)]
    off = [abs(getattr(tone, number) - getattr(truth, number)) / tone.uncertainty[number] for tone, truth in both]
    assert np.mean(np.array(off) <= within) >= 0.95


def test_every_number_of_a_plain_tone_carries_its_error() -> None:
    ((tone, _), *_) = heard(Place(noise_dbfs=-70.0), Faults(), 1)
    told = {"start_s", "end_s", "pitch_cents", "pitch_spread_cents", "pitch_drift_cents", "level_db", "level_spread_db"}
    told |= {"level_drift_db_per_s", "rise_s", "scoop_cents", "hnr_db", "centroid_hz"}
    assert told <= set(tone.uncertainty)
    assert all(np.isfinite(error) and error > 0.0 for error in tone.uncertainty.values())


def test_noise_shortness_and_unsteadiness_make_it_less_sure() -> None:
    def pitch(spread_cents: float = 2.0, span: Span = SPAN, snr_db: float = 40.0, info: AudioInfo = INFO) -> float:
        return pitch_errors(spread_cents, Vibrato(False), span, snr_db, info)["pitch_cents"]

    assert pitch() < pitch(spread_cents=8.0)
    assert pitch() < pitch(span=Span(0.0, 0.6, 0.2, 0.5))
    assert pitch(spread_cents=0.2) < pitch(spread_cents=0.2, snr_db=5.0)
    assert pitch() < pitch(info=AudioInfo(10.0, 48_000, 1, "opus", "", 16_000))
    assert level_errors(0.3, SPAN, 40.0)["level_db"] < level_errors(0.3, SPAN, 10.0)["level_db"]
    assert place_errors(Release(fall_s=0.03))["end_s"] < place_errors(Release(fall_s=0.3))["end_s"]


def test_a_codec_is_as_sure_as_its_bit_rate() -> None:
    assert codec_pitch("flac", 300_000) == (0.0, 0.0)
    shifts = [codec_pitch("opus", rate)[0] for rate in (16_000, 32_000, 64_000)]
    assert shifts == sorted(shifts, reverse=True)
    assert codec_pitch("opus", None) == codec_pitch("opus", 16_000)
