"""What the tests of hostile recordings share: a file in, its code of refusal or its measurement out."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis import faults
from analysis.audio import hear
from analysis.core.records import Measurement, Request
from analysis.core.words import all_words
from tests.faults.files import RATE_HZ, encoded, horn, wav

ROOT = Path(__file__).resolve().parents[2]
CUTTABLE = {"wav": None, "flac": "flac", "mp3": "libmp3lame", "opus": "libopus", "webm": "libopus", "m4a": "aac"}
NOISE = np.random.default_rng(7).normal(size=4 * RATE_HZ).astype(np.float32)


def refused(path: Path) -> str:
    """The code with which a file is refused; its words are plain."""
    with pytest.raises(faults.Fault) as caught:
        hear(path, Request())
    text = caught.value.text
    assert text == all_words()[caught.value.code].advice
    assert str(path) not in text
    return caught.value.code


def measured(path: Path) -> Measurement:
    return hear(path, Request())


def outcome(path: Path) -> Measurement | str:
    """The measurement, or the code of the refusal."""
    try:
        return hear(path, Request())
    except faults.Fault as fault:
        return fault.code


def names_of(measurement: Measurement) -> list[str]:
    return [tone.written for tone in measurement.tones]


def as_file(folder: Path, kind: str, seconds: float = 3.0) -> Path:
    codec = CUTTABLE[kind]
    path = folder / f"take.{kind}"
    return encoded(path, horn(seconds), codec) if codec else wav(path, horn(seconds))
