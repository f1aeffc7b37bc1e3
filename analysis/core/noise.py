"""Noise in the tone: harmonics over noise in dB, to 5 kHz (Boersma 1993 defines the ratio; the band is ours).

The number is what the recording holds. A codec or a noisy room can hold less than the player gave: then the number
stays and ``hidden`` says what it is capped by, so that nobody is judged by it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

from analysis.core.records import Frames, Span
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels, median

BAND_HZ = 5000.0
CEILING_DB = 60.0  # side lobes of the window and 16 bits: beyond this nothing is told
ROOM_SHARE = 0.5  # of the noise in the tone that may be the room's own before the room hides the tone's


@dataclass(frozen=True, slots=True)
class Reading:
    hnr_db: float | None
    errors: dict[str, float] = field(default_factory=dict)
    hidden: dict[str, str] = field(default_factory=dict)


def read(
    frames: Frames, span: Span, codec: str = "", bit_rate_bps: int | None = None, floor_power: float = 0.0
) -> Reading:
    """Median of the frames of the steady part. ``floor_power``: plain mean square of the room outside the tones."""
    part = frames_between(frames, span.steady_start_s, span.steady_end_s)
    tonal, noise = frames.tonal_power[part].astype(np.float64), frames.noise_power[part].astype(np.float64)
    heard = tonal > 0.0
    if np.count_nonzero(heard) < 5:
        return Reading(None)
    each_db = np.minimum(decibels(tonal[heard]) - decibels(noise[heard]), CEILING_DB)
    hnr_db = median(each_db)
    # Frames overlap by five sixths: about every sixth is news.
    errors = {"hnr_db": float(1.25 * np.std(each_db) / np.sqrt(max(1.0, np.count_nonzero(heard) / 6.0)))}
    hidden = {}
    if hnr_db > ceiling_db(codec, bit_rate_bps) - 3.0:
        hidden = {"hnr_db": "codec_hides_noise"}
    elif floor_power > ROOM_SHARE * median(noise[heard]):
        hidden = {"hnr_db": "room_hides_noise"}
    return Reading(hnr_db, errors, hidden)


def ceiling_db(codec: str, bit_rate_bps: int | None) -> float:
    """The most that a codec lets through (data/codecs.toml); lossless or unknown: what the method itself can tell."""
    rows = _codecs().get(codec.lower())
    if rows is None:
        return CEILING_DB
    if bit_rate_bps is None:
        return float(rows[-1]["hnr_db"])
    return float(next(row["hnr_db"] for row in rows if bit_rate_bps >= row["from_bps"]))


@cache
def _codecs() -> Mapping[str, Any]:
    table = tomllib.loads((Path(__file__).parent / "data" / "codecs.toml").read_text(encoding="utf-8"))
    return {name: rows for name, rows in table.items() if isinstance(rows, list)}
