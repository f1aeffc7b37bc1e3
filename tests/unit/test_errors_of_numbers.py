"""Every number of a tone says how far it could be off: plain, waved, swelling, in steps."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from scipy.signal import resample_poly

from analysis.core.measure import measure
from analysis.core.records import AudioInfo, Request, Shape
from analysis.synthesis import Faults, Place, ToneSpec, render

# Places and limits of the reading itself, what only helps another number, and the pitch in Hz, whose error is in cents.
NO_READINGS = {"steady_start_s", "steady_end_s", "at_s", "cracked_at_s", "collapse_at_s", "f0_hz"}
HELPERS = {"accent_db", "band_hz", "partials_db", "levels_db"}
APART = {"course", "uncertainty", "hidden"}


def numbers(record: Any) -> Iterator[str]:
    """Names of the fields that hold a measured number, records within records too."""
    for field in dataclasses.fields(record):
        value = getattr(record, field.name)
        if field.name in APART | HELPERS | NO_READINGS:
            continue
        if dataclasses.is_dataclass(value):
            yield from numbers(value)
        elif isinstance(value, float) or (isinstance(value, tuple) and value and isinstance(value[0], float)):
            yield field.name


@pytest.mark.parametrize(
    ("spec", "shape", "pulses"),
    [
        (ToneSpec(written_midi=70, seconds=4.0), "sustained", 0.0),
        (ToneSpec(written_midi=70, seconds=4.0, faults=Faults(vibrato_cents=25.0)), "sustained", 5.0),
        (ToneSpec(written_midi=70, shape="swell", seconds=6.0), "swell", 0.0),
        (ToneSpec(written_midi=70, shape="stepped", seconds=8.0), "stepped", 0.0),
    ],
    ids=["plain", "waved", "swell", "steps"],
)
def test_no_number_is_without_its_error(spec: ToneSpec, shape: Shape, pulses: float) -> None:
    samples, _ = render([spec], place=Place(noise_dbfs=-72.0), seed=1)
    at_24_khz = resample_poly(samples, 1, 2).astype(np.float32)
    info = AudioInfo(len(at_24_khz) / 24_000, 48_000, 1, "flac", "0" * 64)
    (tone,) = measure([at_24_khz], lambda: info, Request(shape=shape, pulses_per_second=pulses)).tones
    assert tone.vibrato.present is (pulses > 0.0)
    plain_range = {"range_db"} if shape == "sustained" else set()
    assert set(numbers(tone)) - plain_range - set(tone.uncertainty) == set()
    assert all(error >= 0.0 for error in tone.uncertainty.values())
