"""What the generator sounds, the measuring hears: every stated fault with its size, and none where none was put."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis.core import evenness
from analysis.core.measure import measure
from analysis.core.records import Asked, AudioInfo, Measurement, Request, Shape, Tone
from analysis.core.tables import instruments
from analysis.synthesis import Faults, GainControl, Place, Room, ToneSpec, Truth, render

QUIET = Place(noise_dbfs=-72.0)
WRITTEN = (70, 82)  # in the middle and high up


def heard(
    specs: list[ToneSpec],
    instrument: str = "alto",
    place: Place = QUIET,
    shape: Shape = "sustained",
    asked: tuple[Asked, ...] = (),
    seed: int = 1,
) -> tuple[Measurement, list[Truth]]:
    samples, truths = render(specs, instrument, place=place, seed=seed)
    at_24_khz = resample_poly(samples, 1, 2).astype(np.float32)
    info = AudioInfo(len(at_24_khz) / 24_000, 48_000, 1, "flac", "0" * 64)
    return measure([at_24_khz], lambda: info, Request(instrument=instrument, shape=shape, asked=asked)), truths


def human(**faults: float | bool) -> Faults:
    """As little unsteadiness as a good player has, plus what is asked for."""
    return Faults(**{"unsteady_cents": 0.8, "level_unsteady_db": 0.2, **faults})  # type: ignore[arg-type]


@cache
def with_fault(name: str, **faults: float | bool) -> tuple[tuple[Tone, Truth], ...]:
    """The fault on two notes, each between two clean ones; only the faulty ones come back."""
    specs = [
        ToneSpec(written_midi=w + step, seconds=3.5, gap_s=1.3, faults=human(**faults) if step == 0 else human())
        for w in WRITTEN
        for step in (-2, 0, 2)
    ]
    measurement, truths = heard(specs)
    assert [tone.written_midi for tone in measurement.tones] == [spec.written_midi for spec in specs], name
    return tuple((measurement.tones[i], truths[i]) for i in (1, 4))


@pytest.mark.parametrize("instrument", instruments())
def test_clean_tones_are_found_named_timed_and_read_on_every_horn(instrument):
    marks = zip((58, 62, 67, 72, 74, 79, 84, 88), ("pp", "p", "mp", "mf", "f", "ff", "mf", "pp"), strict=True)
    specs = [ToneSpec(written_midi=w, dynamic=d, seconds=3.0, breath=True, faults=human()) for w, d in marks]  # type: ignore[arg-type]
    measurement, truths = heard(specs, instrument)
    assert measurement.capture.reasons == ()
    for tone, truth in zip(measurement.tones, truths, strict=True):
        assert tone.written_midi == truth.written_midi
        assert tone.pitch_cents == pytest.approx(truth.pitch_cents, abs=0.5)
        assert tone.level_db == pytest.approx(truth.level_db, abs=0.2)
        assert (tone.start_s, tone.end_s) == (
            pytest.approx(truth.start_s, abs=0.02),
            pytest.approx(truth.end_s, abs=0.03),
        )
        assert tone.pitch_spread_cents == pytest.approx(truth.pitch_spread_cents, abs=0.4)
        assert tone.attack.rise_s == pytest.approx(truth.rise_s, abs=0.015)
        assert tone.colour.centroid_harmonics == pytest.approx(truth.centroid_harmonics, rel=0.05)
        assert tone.colour.odd_even_db == pytest.approx(truth.odd_even_db, abs=0.3)


@pytest.mark.parametrize("instrument", instruments())
def test_no_fault_is_reported_on_clean_tones(instrument):
    specs = [ToneSpec(written_midi=w, seconds=3.0, breath=True, faults=human()) for w in range(58, 90, 4)]
    measurement, _ = heard(specs, instrument)
    assert len(measurement.tones) == len(specs)
    for tone in measurement.tones:
        assert (tone.readable, tone.vibrato.present, tone.attack.cracked, tone.attack.double_start) == (
            True,
            False,
            False,
            False,
        )
        assert (tone.collapse_at_s, tone.dropouts, tone.release.kind in (None, "tapered")) == (None, 0, True)
        assert abs(tone.attack.scoop_cents) < 8
        assert tone.attack.settle_s < 0.06
        assert tone.attack.air_before_s < 0.04
    assert [hole for hole in measurement.evenness.holes if hole.kind != "colour"] == []


def test_tuning_drift_and_sag_have_their_size():
    for tone, truth in with_fault("tuning", cents=18.0):
        assert tone.pitch_cents == pytest.approx(truth.pitch_cents, abs=0.5)
    for tone, truth in with_fault("drift", drift_cents=-25.0):
        seconds = tone.steady_end_s - tone.steady_start_s
        truth_seconds = truth.steady_end_s - truth.steady_start_s
        assert tone.pitch_drift_cents / seconds == pytest.approx(truth.pitch_drift_cents / truth_seconds, abs=0.5)
    for tone, _ in with_fault("sag", sag_cents=-40.0):
        assert tone.release.sag_cents == pytest.approx(-40, abs=6)


def test_unsteady_pitch_and_level_have_their_size_and_are_no_vibrato():
    for faults in ({"unsteady_cents": 9.0}, {"waver_cents": 15.0}):
        for tone, truth in with_fault("unsteady", **faults):
            assert not tone.vibrato.present
            assert tone.pitch_spread_cents == pytest.approx(truth.pitch_spread_cents, rel=0.2)
    for tone, truth in with_fault("level", level_unsteady_db=1.5):
        assert tone.level_spread_db == pytest.approx(truth.level_spread_db, rel=0.25)
    for tone, truth in with_fault("fading", level_drift_db=-5.0):
        assert tone.level_drift_db_per_s == pytest.approx(truth.level_drift_db_per_s, abs=0.25)


def test_vibrato_has_its_rate_extent_and_irregularity():
    for tone, truth in with_fault("vibrato", vibrato_cents=28.0, vibrato_hz=5.0):
        assert tone.vibrato.rate_hz == pytest.approx(truth.vibrato_hz, abs=0.05)
        assert tone.vibrato.extent_cents == pytest.approx(truth.vibrato_cents, rel=0.06)
        assert tone.vibrato.rate_cv < 0.04
    for tone, _ in with_fault("uneven", vibrato_cents=28.0, vibrato_hz=5.0, vibrato_cv=0.15):
        assert tone.vibrato.present
        assert tone.vibrato.rate_cv > 0.08


def test_starts_are_heard_as_they_were():
    for tone, truth in with_fault("scoop", scoop_cents=-60.0, scoop_s=0.3):
        assert tone.attack.scoop_cents == pytest.approx(truth.scoop_cents, abs=6)
        assert tone.attack.settle_s == pytest.approx(0.25, abs=0.03)
    for tone, truth in with_fault("slow", rise_s=0.2):
        assert tone.attack.rise_s == pytest.approx(truth.rise_s, abs=0.03)
    for tone, truth in with_fault("air", air_before_s=0.3):
        assert tone.attack.air_before_s == pytest.approx(truth.air_before_s, abs=0.03)
        assert tone.start_s == pytest.approx(truth.start_s, abs=0.03)
    for partial in (0.5, 1.5, 2.0):
        assert all(tone.attack.cracked for tone, _ in with_fault("crack", crack_s=0.12, crack_partial=partial))
    assert all(tone.attack.double_start for tone, _ in with_fault("double", double_start=True))


def test_stops_are_heard_as_they_were():
    kinds = {"tapered": {"release_s": 0.4}, "clipped": {"release_s": 0.015}, "bumped": {"end_bump_db": 5.0}}
    for kind, faults in kinds.items():
        assert [tone.release.kind for tone, _ in with_fault(kind, **faults)] == [kind, kind]


def test_collapses_and_dropouts_are_found_where_they_are():
    for tone, truth in with_fault("collapse", collapse_db=8.0):
        assert tone.collapse_at_s == pytest.approx(truth.start_s + 0.6 * 3.5, abs=0.5)
    specs = [ToneSpec(written_midi=w, faults=human(dropout_s=0.1)) for w in WRITTEN]
    asked = tuple(Asked(written) for written in WRITTEN)  # unasked, it would be two tones on one note
    assert [tone.dropouts for tone in heard(specs, asked=asked)[0].tones] == [1, 1]


def test_air_in_the_tone_is_read_and_colour_apart_from_level():
    for tone, truth in with_fault("airy", hnr_db=15.0):
        assert tone.hnr_db == pytest.approx(truth.hnr_db, abs=1.5)
    for (dull, truth), (plain, of_plain) in zip(with_fault("dull", colour_db=-10.0), with_fault("plain"), strict=True):
        assert dull.level_db == pytest.approx(plain.level_db, abs=0.2)
        ratio = truth.centroid_harmonics / of_plain.centroid_harmonics
        assert dull.colour.centroid_harmonics / plain.colour.centroid_harmonics == pytest.approx(ratio, rel=0.04)
        assert ratio < 0.9


def test_shapes_are_met_when_they_are_and_not_when_they_are_not():
    swells = [
        ToneSpec(written_midi=65, shape="swell", seconds=6.0, faults=human()),
        ToneSpec(written_midi=69, shape="swell", seconds=6.0, peak_at=0.8, faults=human()),
        ToneSpec(written_midi=72, shape="swell", seconds=6.0, range_db=6.0, faults=human()),
        ToneSpec(written_midi=76, shape="swell", seconds=6.0, dip_db=6.0, faults=human()),
    ]
    measurement, truths = heard(swells, shape="swell")
    assert [tone.shape.met for tone in measurement.tones] == [True, False, False, False]
    for tone, truth in zip(measurement.tones[:3], truths[:3], strict=True):
        assert tone.shape.peak_at == pytest.approx(truth.peak_at, abs=0.03)
        assert tone.shape.range_db == pytest.approx(truth.range_db, abs=1.5)
    stairs = [
        ToneSpec(written_midi=65, shape="stepped", seconds=9.0, faults=human()),
        ToneSpec(
            written_midi=69, shape="stepped", seconds=9.0, steps_db=(3.0, 3.0, -3.0, 3.0, 3.0, 3.0, 3.0), faults=human()
        ),
    ]
    measurement, truths = heard(stairs, shape="stepped")
    assert [tone.shape.met for tone in measurement.tones] == [True, False]
    for tone, truth in zip(measurement.tones, truths, strict=True):
        np.testing.assert_allclose(tone.shape.steps_db, truth.steps_db, atol=0.4)


def test_slurred_tones_come_apart_and_overtones_are_named():
    specs = [ToneSpec(written_midi=w, seconds=1.2, slurred=True, faults=human()) for w in (64, 66, 67, 69, 67, 65, 64)]
    measurement, truths = heard(specs)
    assert [tone.written_midi for tone in measurement.tones] == [64, 66, 67, 69, 67, 65, 64]
    for tone, truth in zip(measurement.tones, truths, strict=True):
        assert tone.start_s == pytest.approx(truth.start_s, abs=0.03)
    overtones = [ToneSpec(written_midi=58, partial=p, faults=human()) for p in (2, 3, 4)]
    measurement, truths = heard(overtones)
    assert [tone.written_midi for tone in measurement.tones] == [truth.written_midi for truth in truths] == [70, 77, 82]


def test_a_phone_that_levels_is_noticed_and_a_room_invents_nothing():
    rng = np.random.default_rng(3)
    specs = [
        ToneSpec(written_midi=int(w), seconds=2.5, gap_s=1.2, faults=human(level_db=float(rng.uniform(-6, 6))))
        for w in rng.integers(60, 86, 10)
    ]
    levelled, _ = heard(specs, place=Place(noise_dbfs=-70.0, gain_control=GainControl(up_s=0.6)))
    assert levelled.capture.level_control_suspected
    room, truths = heard(specs, place=Place(noise_dbfs=-70.0, room=Room(direct_to_reverberant_db=6.0)))
    assert not room.capture.level_control_suspected
    assert [tone.written_midi for tone in room.tones] == [truth.written_midi for truth in truths]
    assert not any(tone.vibrato.present or tone.attack.cracked or tone.attack.double_start for tone in room.tones)


def test_a_phone_that_levels_slowly_is_noticed_in_a_room_too():
    rng = np.random.default_rng(3)
    specs = [
        ToneSpec(written_midi=int(w), seconds=2.5, gap_s=1.2, faults=human(level_db=float(rng.uniform(-6, 6))))
        for w in rng.integers(60, 86, 8)
    ]
    for room in (None, Room(direct_to_reverberant_db=4.0)):
        slow = Place(noise_dbfs=-70.0, room=room, gain_control=GainControl(down_s=0.4, up_s=3.0))
        assert heard(specs, place=slow)[0].capture.level_control_suspected


def test_a_soft_note_is_a_hole_in_three_rooms_together():
    notes = range(58, 91)
    specs = [ToneSpec(written_midi=w, seconds=1.6, gap_s=0.7, faults=human(level_db=-7.0 * (w == 72))) for w in notes]
    runs = []
    for seed in (1, 2, 3):
        room = Place(noise_dbfs=-70.0, room=Room(direct_to_reverberant_db=6.0))
        runs.append(heard(specs, place=room, seed=seed)[0])
    over_room_db = float(np.median([run.evenness.direct_over_room_db for run in runs]))
    assert over_room_db == pytest.approx(6.0, abs=2.5)
    together = evenness.of_spots([run.tones for run in runs], direct_over_room_db=over_room_db)
    (hole,) = [hole for hole in together.holes if hole.kind == "level"]
    assert hole.written_midi == 72
    assert hole.size == pytest.approx(-7.0, abs=2.5)


def test_a_noisy_place_costs_its_measures_and_no_verdict():
    specs = [ToneSpec(written_midi=w, dynamic="p", seconds=2.5, faults=human()) for w in (62, 67, 72, 76)]
    measurement, _ = heard(specs, place=Place(noise_dbfs=-30.0))
    assert not any(tone.readable and "pitch_spread_cents" not in tone.hidden for tone in measurement.tones)
