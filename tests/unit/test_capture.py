"""What the phone and the room did to a take: seen, said, and hiding no more than it spoils."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis.core.measure import measure
from analysis.core.records import Asked, AudioInfo, Measurement, Request
from analysis.synthesis import Faults, GainControl, Place, Room, ToneSpec, render

RATE_HZ = 24_000
WRITTEN = (58, 62, 67, 72, 74, 79, 86, 90)
ROOM = Room(direct_to_reverberant_db=8.0)
BRIGHT = [ToneSpec(written_midi=w, dynamic="ff", seconds=2.0, breath=True) for w in WRITTEN[:6]]


def measured(samples: np.ndarray, rate_hz: int = 48_000, asked: tuple[Asked, ...] = ()) -> Measurement:
    """``samples`` at 24 kHz; ``rate_hz`` is what the file says it was recorded at."""
    info = AudioInfo(len(samples) / RATE_HZ, rate_hz, 1, "flac", "0" * 64)
    return measure([samples.astype(np.float32)], lambda: info, Request(asked=asked))


@cache
def taken(place: Place = Place()) -> Measurement:  # noqa: B008 - a frozen record
    specs = [ToneSpec(written_midi=w, seconds=2.2, gap_s=1.2, breath=True) for w in WRITTEN]
    samples, _ = render(specs, place=place, seed=2)
    return measured(resample_poly(samples, 1, 2))


@pytest.mark.parametrize(
    "place",
    [
        Place(),
        Place(noise_dbfs=None),
        Place(room=ROOM),
        Place(room=ROOM, noise_dbfs=-60.0),
        Place(hum_dbfs=-50.0),
        Place(low_pass_hz=8_000.0),
        Place(gain_db=-15.0),
    ],
    ids=["dry", "digital silence", "room", "room and noise", "hum", "8 kHz", "soft"],
)
def test_nothing_is_said_against_a_fair_recording(place: Place) -> None:
    measurement = taken(place)
    assert measurement.capture.reasons == ()
    assert measurement.cautions == ()
    assert [tone.written_midi for tone in measurement.tones] == list(WRITTEN)


@pytest.mark.parametrize("noise_dbfs", [-72.0, -60.0, -50.0])
def test_the_noise_floor_and_what_stands_over_it_are_read(noise_dbfs: float) -> None:
    capture = taken(Place(noise_dbfs=noise_dbfs)).capture
    assert capture.noise_floor_dbfs == pytest.approx(noise_dbfs, abs=2.0)
    assert capture.snr_db == pytest.approx(-26.0 - noise_dbfs, abs=4.0)


@pytest.mark.parametrize("up_s", [0.5, 1.5])
def test_level_control_is_suspected_and_hides_what_it_spoils(up_s: float) -> None:
    measurement = taken(Place(gain_control=GainControl(up_s=up_s), room=ROOM, noise_dbfs=-60.0))
    assert measurement.capture.level_control_suspected
    for tone in measurement.tones:
        assert tone.readable
        assert tone.hidden["level_db"] == tone.hidden["shape"] == "level_control_suspected"
        assert "pitch_cents" not in tone.hidden


def test_accents_are_no_level_control() -> None:
    specs = [ToneSpec(written_midi=w, seconds=2.2, breath=True, faults=Faults(accent_db=2.0)) for w in WRITTEN]
    samples, _ = render(specs, place=Place(room=ROOM))
    assert not measured(resample_poly(samples, 1, 2)).capture.level_control_suspected


def test_a_noise_gate_is_seen_by_its_closing() -> None:
    measurement = taken(Place(suppress_below_dbfs=-50.0, noise_dbfs=-62.0))
    assert "noise_gate" in measurement.capture.reasons
    assert measurement.tones[0].hidden["air_before_s"] == "noise_gate"
    assert "level_db" not in measurement.tones[0].hidden


def test_a_telephones_band_hides_colour_and_noise_only() -> None:
    samples, _ = render(BRIGHT)
    narrow = resample_poly(resample_poly(samples, 1, 6), 3, 1)  # through 8 kHz
    measurement = measured(narrow)
    assert measurement.capture.reasons == ("narrow_band",)
    assert {"colour", "hnr_db"} == set(measurement.tones[0].hidden)
    assert measured(resample_poly(samples, 1, 2)).capture.reasons == ()
    assert measured(narrow, rate_hz=8_000).capture.reasons == ("narrow_band",)


def test_a_room_louder_than_the_tone_is_said_and_costs_no_verdict() -> None:
    loud = taken(Place(noise_dbfs=-32.0))
    assert any("room_too_loud" in tone.reasons for tone in loud.tones)
    middling = taken(Place(noise_dbfs=-42.0))
    hidden = [tone for tone in middling.tones if tone.hidden.get("pitch_spread_cents") == "room_hides_steadiness"]
    assert hidden
    assert all(tone.readable and abs(tone.pitch_cents) < 1.0 for tone in hidden)


def test_somebody_playing_softly_next_door_is_told_from_the_player() -> None:
    samples, _ = render([ToneSpec(written_midi=w, seconds=2.0, gap_s=2.0) for w in (67, 69, 71)], seed=1)
    other, _ = render([ToneSpec(written_midi=w, seconds=1.2, gap_s=2.8) for w in (74, 76, 78)], seed=2)
    other = np.concatenate((np.zeros(round(2.5 * 48_000)), other))[: len(samples)] * 10 ** (-25 / 20)
    asked = tuple(Asked(w) for w in (67, 69, 71))
    measurement = measured(resample_poly(samples + np.pad(other, (0, len(samples) - len(other))), 1, 2), asked=asked)
    assert measurement.missing == ()
    (said,) = [caution for caution in measurement.cautions if caution.code == "someone_else_playing"]
    assert set(said.indices) == set(measurement.extra) != set()


def test_a_whole_take_beside_the_tuning_note_is_said_once() -> None:
    specs = [ToneSpec(written_midi=w, seconds=2.0, faults=Faults(cents=-22.0)) for w in WRITTEN[:5]]
    samples, _ = render(specs)
    (said,) = measured(resample_poly(samples, 1, 2)).cautions
    assert said.code == "tuned_elsewhere"
    assert "22 cents flat" in said.text


def test_one_note_out_of_tune_is_no_other_tuning() -> None:
    specs = [ToneSpec(written_midi=w, seconds=2.0, faults=Faults(cents=30.0 * (w == 67))) for w in WRITTEN[:5]]
    samples, _ = render(specs)
    assert measured(resample_poly(samples, 1, 2)).cautions == ()
