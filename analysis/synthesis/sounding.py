"""From drawn lines to samples: one phrase (a tone, or several slurred together) at a time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.synthesis.curves import Curves, smoothed
from analysis.synthesis.noises import Noises, stretch
from analysis.synthesis.specs import CONTROL_HZ, SAMPLE_RATE_HZ, SAMPLES_PER_STEP, ToneSpec
from analysis.synthesis.spectra import ROW_DB, TABLE_SAMPLES, Voice

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Floats

SLUR_S = 0.03  # from one pitch to the next


@dataclass(frozen=True, slots=True)
class Part:
    """One tone of a phrase: what was asked, its lines, its voice, the pitch it should have."""

    spec: ToneSpec
    curves: Curves
    voice: Voice
    target_hz: float


def phrase(parts: Sequence[Part], noises: Noises, rng: np.random.Generator) -> tuple[Floats, float]:
    """Samples of a phrase and how long before its first start they begin (s): one phase throughout, so no clicks."""
    first = parts[0]
    before_s = float(-first.curves.t_s[0])
    hz = np.concatenate([part.target_hz * 2 ** (part.curves.cents / 1200) for part in parts])
    level_db = np.concatenate([part.curves.level_db for part in parts])
    colour_db = np.concatenate([part.curves.colour_db for part in parts])
    gain = np.concatenate([part.curves.gain for part in parts])
    if len(parts) > 1:
        hz = np.exp(smoothed(np.log(hz), SLUR_S))
        level_db, colour_db = smoothed(level_db, SLUR_S), smoothed(colour_db, SLUR_S)
    phase = np.cumsum(_joined(hz)) / SAMPLE_RATE_HZ
    sound = np.zeros(len(phase), dtype=np.float32)
    end = 0
    for part in parts:
        start, end = end, end + len(part.curves.t_s)
        window, weights = _faded(start, end, len(hz))
        tone = _looked_up(part.voice, phase[window], _joined(colour_db)[window])
        tone += np.float32(_air_amplitude(part)) * stretch(noises.air, len(tone), rng)
        sound[window] += weights * tone
    sound *= _joined(10 ** (level_db / 20) * gain).astype(np.float32)
    return _with_air(sound, before_s, first, noises, rng)


def _faded(start: int, end: int, steps: int) -> tuple[slice, Floats]:
    """Which samples of the phrase a tone takes part in, and how strongly: faded into its neighbours over the slur."""
    fade = round(SLUR_S * CONTROL_HZ / 2)
    lo, hi = max(0, start - fade), min(steps, end + fade)
    at = np.arange(lo, hi)
    coming = (at - lo) / (2 * fade) if lo > 0 else np.ones(len(at))
    going = (hi - at) / (2 * fade) if hi < steps else np.ones(len(at))
    weights = _joined(np.minimum(1.0, np.minimum(coming, going))).astype(np.float32)
    return slice(lo * SAMPLES_PER_STEP, hi * SAMPLES_PER_STEP), weights


def _air_amplitude(part: Part) -> float:
    """Of the breath noise in a tone whose K-weighted level is 0 dB."""
    colour_db = part.curves.colour_db[len(part.curves.colour_db) // 2]
    return float(np.sqrt(part.voice.tonal_power(colour_db) * 10 ** (-part.spec.faults.hnr_db / 10)))


def _looked_up(voice: Voice, phase: Doubles, colour_db: Doubles) -> Floats:
    """The tone at each phase (cycles) and colour, straight lines between samples and between rows."""
    rows = np.clip((colour_db - voice.softest_db) / ROW_DB, 0, len(voice.tables) - 1.001)
    row = rows.astype(np.int32)
    between_rows = (rows - row).astype(np.float32)
    column = (phase - np.floor(phase)) * TABLE_SAMPLES
    left = column.astype(np.int32)
    between = (column - left).astype(np.float32)
    flat = voice.tables.ravel()
    at = row * np.int32(TABLE_SAMPLES + 1) + left
    darker = _between(flat, at, between)
    brighter = _between(flat, at + np.int32(TABLE_SAMPLES + 1), between)
    return darker + between_rows * (brighter - darker)


def _between(flat: Floats, at: np.ndarray, share: Floats) -> Floats:
    here = flat[at]
    return here + share * (flat[at + 1] - here)


def _with_air(
    sound: Floats, before_s: float, first: Part, noises: Noises, rng: np.random.Generator
) -> tuple[Floats, float]:
    """Breath that is heard before the tone speaks, joined to its start."""
    faults = first.spec.faults
    if not faults.air_before_s:
        return sound, before_s
    lead = max(0, round((faults.air_before_s - before_s) * SAMPLE_RATE_HZ))
    overlap = round((before_s + 0.02) * SAMPLE_RATE_HZ)
    middle = len(first.curves.level_db) // 2
    power = first.voice.tonal_power(first.curves.colour_db[middle]) * 10 ** (first.curves.level_db[middle] / 10)
    air = np.float32(np.sqrt(power) * 10 ** (faults.air_db / 20)) * stretch(noises.air, lead + overlap, rng)
    edge = round(0.005 * SAMPLE_RATE_HZ)
    air[:edge] = air[:edge] * np.linspace(0, 1, edge, dtype=np.float32)
    air[-edge:] *= np.linspace(1, 0, edge, dtype=np.float32)
    joined = np.concatenate((np.zeros(lead, dtype=np.float32), sound))
    joined[: len(air)] += air
    return joined, before_s + lead / SAMPLE_RATE_HZ


def _joined(line: Doubles) -> Doubles:
    """A line of a point a millisecond as one of a point a sample; the last point is held."""
    ramp = np.arange(SAMPLES_PER_STEP) / SAMPLES_PER_STEP
    return (line[:, None] + np.diff(line, append=line[-1])[:, None] * ramp).ravel()
