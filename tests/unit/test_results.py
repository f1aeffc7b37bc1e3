"""The report: strict JSON with every field of the public form, and a Measurement again."""

from __future__ import annotations

import json
from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis import results
from analysis.core.measure import measure, unheard
from analysis.core.records import Asked, AudioInfo, Caution, Measurement, Request
from analysis.synthesis import Faults, ToneSpec, render

INFO = AudioInfo(9.0, 48_000, 1, "flac", "0" * 64, 300_000, clipped_at_s=(1.0,))
FIELDS = {
    "": {"engine", "audio", "capture", "tones", "evenness", "missing", "extra", "cautions"},
    "audio": {"duration_s", "sample_rate_hz", "channels", "codec", "sha256"},
    "capture": {"noise_floor_dbfs", "snr_db", "clipped", "level_control_suspected", "readable", "reasons"},
    "evenness": {"level_sd_db", "colour_sd_pct", "pitch_sd_cents", "holes"},
    "tone": {
        *("index", "start_s", "end_s", "written", "written_midi", "sounding_midi", "expected", "partial", "readable"),
        *("reasons", "f0_hz", "pitch_cents", "pitch_spread_cents", "pitch_drift_cents", "level_db", "level_spread_db"),
        *("level_drift_db_per_s", "vibrato", "attack", "noise", "colour", "shape"),
    },
    "vibrato": {"present", "rate_hz", "extent_cents", "rate_cv", "extent_cv"},
    "attack": {"rise_s", "scoop_cents", "settle_s", "cracked", "air_before_s"},
    "noise": {"hnr_db"},
    "colour": {"centroid_hz", "centroid_harmonics", "tilt_db_per_octave", "odd_even_db"},
    "shape": {
        *("kind", "met", "range_db", "peak_at", "rise_db_per_s", "fall_db_per_s", "straightness", "steps_db"),
        *("steps_found", "steps_expected", "pitch_range_cents"),
    },
}


@cache
def one() -> Measurement:
    specs = [
        ToneSpec(written_midi=62, seconds=3.0),
        ToneSpec(written_midi=67, seconds=3.0, faults=Faults(vibrato_cents=25.0)),
        ToneSpec(written_midi=71, seconds=0.4),
        ToneSpec(written_midi=81, seconds=3.0, faults=Faults(level_db=9.0)),
        ToneSpec(written_midi=58, partial=3, seconds=3.0),
    ]
    samples, _ = render(specs)
    request = Request(asked=(Asked(62), Asked(67), Asked(58, partial=3), Asked(90)))
    return measure([resample_poly(samples, 1, 2).astype(np.float32)], lambda: INFO, request)


def test_the_report_is_strict_json_and_becomes_the_measurement_again() -> None:
    report = results.report(one())
    text = json.dumps(report, allow_nan=False)
    again = results.measurement(json.loads(text))
    assert results.report(again) == report
    assert isinstance(again, Measurement)
    assert again.tones[1].vibrato.present
    assert again.tones[0].hidden == one().tones[0].hidden


def test_every_field_of_the_public_form_is_there() -> None:
    report = results.report(one())
    tone = report["tones"][1]
    parts = {"": report, "audio": report["audio"], "capture": report["capture"], "evenness": report["evenness"]}
    parts |= {"tone": tone, **{name: tone[name] for name in ("vibrato", "attack", "noise", "colour", "shape")}}
    for name, fields in FIELDS.items():
        assert fields <= set(parts[name]), name
    assert report["missing"] == ["F#6"]
    assert report["tones"][4]["partial"] == 3
    assert report["tones"][2]["reasons"] == ["tone_too_short"]
    cautious = replace(one(), cautions=(Caution("room_may_explain", "It may be the room.", (2,)),))
    assert [set(caution) for caution in results.report(cautious)["cautions"]] == [{"code", "text", "indices"}]


def test_what_could_not_be_measured_is_null_and_never_nan() -> None:
    broken = replace(one(), tones=(replace(one().tones[0], pitch_drift_cents=float("nan"), level_db=float("inf")),))
    tone = results.report(broken)["tones"][0]
    assert tone["pitch_drift_cents"] is None
    assert tone["level_db"] is None


def test_a_recording_that_was_not_heard_has_a_whole_report_too() -> None:
    report = results.report(unheard(INFO, Request(asked=(Asked(60),)), "too_long"))
    assert FIELDS[""] <= set(report)
    assert report["capture"]["reasons"] == ["too_long"]
    assert report["missing"] == ["C4"]
    assert results.report(results.measurement(report)) == report


def test_a_report_of_another_format_is_not_guessed_at() -> None:
    with pytest.raises(ValueError, match="format 99"):
        results.measurement({**results.report(one()), "format": 99})
