"""The truth about one tone, read off the lines it was made from (never off the samples)."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.tables import instrument as instrument_named
from analysis.synthesis.sounding import Part
from analysis.synthesis.specs import Faults, Truth

if TYPE_CHECKING:
    from analysis.core.records import Doubles

SHAPES_WITH_RANGE = ("crescendo", "decrescendo", "swell", "reverse_swell", "stepped")


def truth_of(part: Part, instrument: str, a4_hz: float, start_s: float) -> Truth:
    """``start_s``: when the tone speaks, in take seconds."""
    spec, faults, curves = part.spec, part.spec.faults, part.curves
    edge_s = min(0.4, spec.seconds / 4)
    steady = (curves.t_s >= edge_s) & (curves.t_s < spec.seconds - min(0.25, spec.seconds / 6))
    t_s, level = curves.t_s[steady], curves.level_db[steady]
    cents_slope, cents_spread = _line(t_s, curves.steady_cents[steady])
    level_slope, level_spread = _line(t_s, level)
    cents = float(np.median(curves.cents[steady]))
    sounding = round(69 + 12 * np.log2(part.target_hz / a4_hz))
    centroid = part.voice.centroid_harmonics(float(np.mean(curves.colour_db[steady])))
    return Truth(
        written_midi=sounding - instrument_named(instrument).sounds_semitones,
        sounding_midi=sounding,
        partial=spec.partial,
        start_s=start_s,
        end_s=start_s + spec.seconds,
        steady_start_s=start_s + edge_s,
        steady_end_s=start_s + float(t_s[-1]),
        f0_hz=float(part.target_hz * 2 ** (cents / 1200)),
        pitch_cents=cents,
        pitch_spread_cents=cents_spread,
        pitch_drift_cents=cents_slope * float(t_s[-1] - t_s[0]),
        level_db=float(10 * np.log10(np.mean(10 ** (level / 10)))),
        level_spread_db=level_spread,
        level_drift_db_per_s=level_slope,
        rise_s=_rise_s(curves.t_s, curves.level_db, curves.gain),
        scoop_cents=_scoop_cents(curves.t_s, curves.steady_cents, steady),
        air_before_s=faults.air_before_s,
        cracked=faults.crack_s > 0,
        double_start=faults.double_start,
        vibrato_hz=faults.vibrato_hz if faults.vibrato_cents else None,
        vibrato_cents=faults.vibrato_cents or None,
        hnr_db=faults.hnr_db,
        centroid_hz=centroid * float(part.target_hz * 2 ** (cents / 1200)),
        centroid_harmonics=centroid,
        odd_even_db=part.voice.odd_even_db(float(np.mean(curves.colour_db[steady]))),
        range_db=float(np.ptp(curves.level_db)) if spec.shape in SHAPES_WITH_RANGE else None,
        peak_at=spec.peak_at if spec.shape.endswith("swell") else None,
        steps_db=spec.steps_db if spec.shape == "stepped" else (),
        faults=tuple(f.name for f in fields(Faults) if getattr(faults, f.name) != f.default),
    )


def _line(t_s: Doubles, values: Doubles) -> tuple[float, float]:
    """Slope of the least-squares line and the standard deviation about it."""
    slope, offset = np.polyfit(t_s, values, 1)
    return float(slope), float(np.std(values - slope * t_s - offset))


def _rise_s(t_s: Doubles, level_db: Doubles, gain: Doubles) -> float:
    """From the start to within 3 dB of the level at 0.2 to 0.6 s."""
    heard_db = level_db + 20 * np.log10(np.maximum(gain, 1e-6))
    body = (t_s >= 0.2) & (t_s <= 0.6)
    body_db = 10 * np.log10(np.mean(10 ** (heard_db[body] / 10)))
    return float(max(0.0, t_s[np.argmax(heard_db >= body_db - 3)]))


def _scoop_cents(t_s: Doubles, cents: Doubles, steady: np.ndarray) -> float:
    """Against the line of the steady part, so that a drift is no scoop."""
    away = cents - np.polyval(np.polyfit(t_s[steady], cents[steady], 1), t_s)
    start = away[(t_s >= 0.05) & (t_s <= 0.25)]
    return float(start[np.argmax(np.abs(start))])
