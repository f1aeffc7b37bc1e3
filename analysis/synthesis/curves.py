"""One tone drawn as lines, a point every millisecond: pitch, level, colour. What was asked for plus what went wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.synthesis.specs import CONTROL_HZ, DYNAMIC_DB, Faults, ToneSpec

if TYPE_CHECKING:
    from analysis.core.records import Doubles

RISE_START = 0.1  # a straight rise is 20 dB under the tone after a tenth of it …
RISE_END = 0.708  # … and 3 dB under it here
BUMP_S, SAG_S, ACCENT_S, COLLAPSE_S = 0.2, 0.2, 0.1, 0.3
DOUBLE_SPEAKS_S, DOUBLE_GAP_S = 0.09, 0.07


@dataclass(frozen=True, slots=True)
class Curves:
    """``t_s`` counts from where the tone speaks; the first points lie a little before it."""

    t_s: Doubles
    cents: Doubles  # against the note's own place, vibrato and cracks included
    steady_cents: Doubles  # the same without vibrato and cracks
    level_db: Doubles  # K-weighted level of the tone proper
    gain: Doubles  # rise, fall, gaps: 0..1
    colour_db: Doubles  # the level it is as bright as


def draw(spec: ToneSpec, rng: np.random.Generator, slurred_in: bool = False) -> Curves:
    """Slurred tones have no rise (no fall) of their own where they touch their neighbour."""
    faults = spec.faults
    lead_s = 0.0 if slurred_in else RISE_START * faults.rise_s / (RISE_END - RISE_START)
    tail_s = 0.0 if spec.slurred else faults.release_s / 2
    t_s = np.arange(round((lead_s + spec.seconds + tail_s) * CONTROL_HZ)) / CONTROL_HZ - lead_s
    steady = _plain_pitch(t_s, spec, rng)
    cents = steady + _vibrato(t_s, faults, rng)
    if faults.crack_s:
        cracked = (t_s < faults.crack_at_s + faults.crack_s) & ((t_s >= faults.crack_at_s) | (faults.crack_at_s == 0))
        cents = cents + np.where(cracked, 1200 * np.log2(faults.crack_partial), 0.0)
    asked_db = DYNAMIC_DB[spec.dynamic] + faults.level_db + shape_db(t_s / spec.seconds, spec)
    level_db = asked_db + _level_faults(t_s, spec, rng)
    gain = _gaps(t_s, spec)
    if not slurred_in:
        gain = gain * np.clip((t_s + lead_s) * (RISE_END - RISE_START) / faults.rise_s, 0, 1)
    if not spec.slurred:
        gain = gain * np.clip((spec.seconds + tail_s - t_s) / faults.release_s, 0, 1)
    return Curves(t_s, cents, steady, level_db, gain, level_db + faults.colour_db)


def shape_db(place: Doubles, spec: ToneSpec) -> Doubles:
    """The line that was asked for, in dB about the dynamic, over the tone (``place`` 0..1)."""
    if spec.shape == "stepped":
        terraces = np.concatenate(([0.0], np.cumsum(spec.steps_db)))
        which = np.clip((place * len(terraces)).astype(int), 0, len(terraces) - 1)
        line = terraces[which] - terraces.mean()
        return smoothed(line, 0.03)
    ends = {
        "crescendo": ((0, 1), (-0.5, 0.5)),
        "decrescendo": ((0, 1), (0.5, -0.5)),
        "swell": ((0, spec.peak_at, 1), (-0.5, 0.5, -0.5)),
        "reverse_swell": ((0, spec.peak_at, 1), (0.5, -0.5, 0.5)),
    }.get(spec.shape)
    if ends is None:
        return np.zeros_like(place)
    line = spec.range_db * np.interp(place, *ends)
    if spec.dip_db:
        half_way = spec.peak_at / 2
        line = line - spec.dip_db * np.clip(1 - np.abs(place - half_way) / 0.08, 0, 1)
    return np.asarray(line)


def wander(t_s: Doubles, sd: float, rng: np.random.Generator) -> Doubles:
    """A random wander of waves between 0.3 and 3 Hz, with exactly that standard deviation."""
    if not sd:
        return np.zeros_like(t_s)
    rates, phases = rng.uniform(0.3, 3.0, 8), rng.uniform(0, 2 * np.pi, 8)
    waves = np.sin(2 * np.pi * rates[:, None] * t_s + phases[:, None]).sum(axis=0)
    return np.asarray(sd * (waves - waves.mean()) / waves.std())


def _plain_pitch(t_s: Doubles, spec: ToneSpec, rng: np.random.Generator) -> Doubles:
    faults, end_s = spec.faults, spec.seconds
    cents = faults.cents + faults.drift_cents * (t_s / end_s - 0.5)
    cents = cents + faults.sag_cents * np.clip((t_s - end_s + SAG_S) / SAG_S, 0, 1)
    cents = cents + faults.scoop_cents * np.clip(1 - t_s / faults.scoop_s, 0, 1)
    waver = faults.waver_cents * np.sin(2 * np.pi * faults.waver_hz * t_s + rng.uniform(0, 2 * np.pi))
    return np.asarray(cents + waver + wander(t_s, faults.unsteady_cents, rng))


def _vibrato(t_s: Doubles, faults: Faults, rng: np.random.Generator) -> Doubles:
    if not faults.vibrato_cents:
        return np.zeros_like(t_s)
    cycles = int(np.ceil(t_s[-1] * faults.vibrato_hz)) * 2 + 2
    lengths = np.maximum(0.3, 1 + faults.vibrato_cv * rng.standard_normal(cycles)) / faults.vibrato_hz
    sizes = np.maximum(0.1, 1 + faults.vibrato_cv * rng.standard_normal(cycles))
    starts = np.concatenate(([0.0], np.cumsum(lengths)))
    turns = np.interp(t_s, starts, np.arange(cycles + 1.0))
    size = np.interp(turns, np.arange(cycles) + 0.5, sizes)
    return np.asarray(faults.vibrato_cents * size * np.sin(2 * np.pi * turns) * np.clip((t_s - 0.1) / 0.2, 0, 1))


def _level_faults(t_s: Doubles, spec: ToneSpec, rng: np.random.Generator) -> Doubles:
    faults, end_s = spec.faults, spec.seconds
    level = faults.level_drift_db * (t_s / end_s - 0.5) + wander(t_s, faults.level_unsteady_db, rng)
    level = level + faults.accent_db * np.clip(1 - t_s / ACCENT_S, 0, 1)
    level = level + faults.end_bump_db * np.clip((t_s - end_s + BUMP_S) / (BUMP_S / 2), 0, 1)
    fall_at_s = faults.collapse_at * end_s
    down = np.interp(
        t_s, [fall_at_s, fall_at_s + COLLAPSE_S, fall_at_s + COLLAPSE_S + 0.5, fall_at_s + 1.1], [0.0, 1.0, 1.0, 0.0]
    )
    return np.asarray(level - faults.collapse_db * down)


def _gaps(t_s: Doubles, spec: ToneSpec) -> Doubles:
    """Where the tone goes out within itself: 1 elsewhere."""
    open_reed = np.ones_like(t_s)
    if spec.faults.double_start:
        open_reed[(t_s > DOUBLE_SPEAKS_S) & (t_s < DOUBLE_SPEAKS_S + DOUBLE_GAP_S)] = 0.02
    open_reed[np.abs(t_s - spec.seconds / 2) < spec.faults.dropout_s / 2] = 0.0
    return smoothed(open_reed, 0.015)


def smoothed(line: Doubles, over_s: float) -> Doubles:
    """A moving mean, centred, with the ends held."""
    n = max(1, round(over_s * CONTROL_HZ)) | 1
    held = np.concatenate((np.full(n // 2, line[0]), line, np.full(n // 2, line[-1])))
    return np.convolve(held, np.full(n, 1 / n), "valid")
