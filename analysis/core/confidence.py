"""How far each number could be off: one standard deviation, from the noise, the length, the codec and the room.

Frames overlap, so that only every sixth brings news. Beside what scatters within the tone stands what would be off
from end to end of it: the codec's own shift (data/codecs.toml) and the shift that reflections give a moving pitch.
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import Any

from analysis.core.records import AudioInfo, Release, Span, Vibrato

NEWS_S = 0.06  # of pitch: the window's effective length
LEVEL_NEWS_S = 0.1
MEDIAN_COSTS = 1.2533  # the standard error of a median over that of a mean, for normal scatter
METHOD_CENTS = 0.05
NOISE_CENTS_AT_0_DB = 2.5  # 0.25 at 20 dB, 0.8 at 10: what noise in the band of the partials adds to a steady pitch
MOVING_SHARE = 0.06  # of a vibrato's extent: its median in a room against the dry one, worst of the takes tried
METHOD_DB = 0.02
START_S, STOP_S, STOP_SHARE, MOST_STOP_S = 0.01, 0.02, 0.3, 0.15


def pitch_errors(
    spread_cents: float | None, vibrato: Vibrato, span: Span, snr_db: float, audio: AudioInfo
) -> dict[str, float]:
    """Of ``pitch_cents``, ``pitch_spread_cents``, ``pitch_drift_cents``."""
    news = max(1.0, (span.steady_end_s - span.steady_start_s) / NEWS_S)
    codec_cents, wobble_cents = codec_pitch(audio.codec, audio.bit_rate_bps)
    noise_cents = NOISE_CENTS_AT_0_DB * 10.0 ** (-snr_db / 20.0)
    scatter = math.hypot(spread_cents or 0.0, noise_cents)
    moving = MOVING_SHARE * (vibrato.extent_cents or 0.0)
    errors = {"pitch_cents": math.hypot(MEDIAN_COSTS * scatter / math.sqrt(news), METHOD_CENTS, codec_cents, moving)}
    if spread_cents is not None:
        errors["pitch_spread_cents"] = math.hypot(spread_cents / math.sqrt(2.0 * news), noise_cents, wobble_cents)
        errors["pitch_drift_cents"] = math.hypot(scatter * math.sqrt(12.0 / news), 2.0 * METHOD_CENTS)
    return errors


def level_errors(spread_db: float | None, span: Span, snr_db: float) -> dict[str, float]:
    """Of ``level_db``, ``level_spread_db``, ``level_drift_db_per_s``. The room's own part is told by evenness."""
    length_s = max(span.steady_end_s - span.steady_start_s, LEVEL_NEWS_S)
    news = length_s / LEVEL_NEWS_S
    noise_db = 10.0 * math.log10(1.0 + 10.0 ** (-snr_db / 10.0))
    errors = {"level_db": math.hypot((spread_db or 0.0) / math.sqrt(news), noise_db, METHOD_DB)}
    if spread_db is not None:
        errors["level_spread_db"] = math.hypot(spread_db / math.sqrt(2.0 * news), noise_db, METHOD_DB)
        errors["level_drift_db_per_s"] = (spread_db * math.sqrt(12.0 / news) + METHOD_DB) / length_s
    return errors


def place_errors(release: Release) -> dict[str, float]:
    """Of ``start_s`` and ``end_s``: a stop that fades as slowly as a room does cannot be placed more surely."""
    fade_s = STOP_SHARE * (release.fall_s or 0.0)
    return {"start_s": START_S, "end_s": min(max(STOP_S, fade_s), MOST_STOP_S)}


def codec_pitch(codec: str, bit_rate_bps: int | None) -> tuple[float, float]:
    """(shift of the mean pitch, wobble added to a steady one) in cents that a codec may cause at a bit rate."""
    rows = _codecs().get(codec.lower(), [])
    row = next((row for row in rows if bit_rate_bps is not None and bit_rate_bps >= row["from_bps"]), None)
    row = row or (rows[-1] if rows else {"shift_cents": 0.0, "wobble_cents": 0.0})
    return float(row["shift_cents"]), float(row["wobble_cents"])


@cache
def _codecs() -> Mapping[str, list[dict[str, Any]]]:
    table = tomllib.loads((Path(__file__).parent / "data" / "codecs.toml").read_text(encoding="utf-8"))
    return {name: rows for name, rows in table.items() if isinstance(rows, list)}
