"""One tone, read: every number of it, how far each could be off, and what spoils which.

The pitch is the median of the steady part against the tone's own target; steadiness is what is left when vibrato and a
straight line are taken out (only a line: a slow waver stays in); the level is K-weighted (BS.1770) and never gated.
"""

from __future__ import annotations

import math
from collections import ChainMap
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.core import attack, colour, noise, release, shapes, vibrato
from analysis.core.confidence import level_errors, pitch_errors, place_errors
from analysis.core.glitches import without_glitches
from analysis.core.level import level_course, level_db
from analysis.core.lines import through
from analysis.core.records import AudioInfo, Course, Frames, Request, Span, Tone
from analysis.core.spectrum import SAMPLE_RATE_HZ, frames_between
from analysis.core.tables import instrument, note_name
from analysis.core.units import cents_between, decibels, hz_shifted, median
from analysis.core.voicing import VOICED_PROMINENCE_DB, VOICED_SPREAD_CENTS

if TYPE_CHECKING:
    from analysis.core.alignment import Heard
    from analysis.core.records import Doubles
    from analysis.core.tones import Found

COURSE_STEP_S, COURSE_WINDOW_S = 0.02, 0.04
LEAST_READABLE_S = 0.5
LEAST_WINDOWS = 4
PITCH_SNR_DB, STEADY_SNR_DB = 10.0, 20.0  # in the band of the partials: under these the noise would be what is read
CLIPPED_PLACES = 3
OTHER_PITCH_CENTS = 250.0
PLAIN = ("sustained", "evenness")
COLLAPSE_DB, COLLAPSE_S, COLLAPSE_MEDIAN_S = 3.0, 0.5, 0.3
COURSE_OF_LEVEL_S = 0.025
DROPOUT_DB, DROPOUT_S, DROPOUT_AROUND_S = 15.0, 0.06, 0.5
OFF_EDGE = 6  # 10 ms steps at either end: the rise and the fall are no dropout
OF_STEADINESS = ("pitch_spread_cents", "level_spread_db", "rise_s")
OF_LEVEL = ("level_db", "level_spread_db", "level_drift_db_per_s", "shape", "colour", "hnr_db")


@dataclass(frozen=True, slots=True)
class Room:
    """What is known of the place before any tone is read; powers are mean squares of the take without the tones."""

    floor_power: float  # of everything
    band_power: float  # of the band in which partials are looked for


@dataclass(frozen=True, slots=True)
class Pitch:
    cents: float  # median against the target
    spread_cents: float | None
    drift_cents: float | None
    waves: vibrato.Reading


def read_tone(
    index: int, found: Found, heard: Heard, frames: Frames, room: Room, audio: AudioInfo, request: Request
) -> Tone:
    """Tone number ``index`` of a take."""
    span, f0_hz = found.span, found.f0_hz
    asked = request if heard.asked_index is None else request.asked[heard.asked_index]
    window_s = instrument(request.instrument).window_samples / SAMPLE_RATE_HZ
    pitch = _pitch(frames, span, heard.target_hz, window_s, asked.pulses_per_second)
    spread_db, drift_db_per_s = _level_line(frames, span)
    start, start_errors = attack.read(frames, span, f0_hz, room.floor_power, pitch.waves.vibrato, pitch.spread_cents)
    stop, stop_errors = release.read(frames, span, f0_hz, room.floor_power, pitch.waves.vibrato.extent_cents or 0.0)
    clean = noise.read(frames, span, audio.codec, audio.bit_rate_bps, room.floor_power)
    tint, tint_errors = colour.read(frames, span, f0_hz)
    form, form_errors = shapes.read(asked.shape, frames, span, f0_hz)
    snr_db = _snr_db(frames, span, room)
    reasons, hidden = _spoilt(span, snr_db, audio)
    of_pitch = pitch_errors(pitch.spread_cents, pitch.waves.vibrato, span, min(snr_db, clean.hnr_db or snr_db), audio)
    errors = (of_pitch, level_errors(spread_db, span, snr_db), place_errors(stop), pitch.waves.errors)
    return Tone(
        index=index,
        start_s=span.start_s,
        end_s=span.end_s,
        written=note_name(heard.written_midi),
        written_midi=heard.written_midi,
        sounding_midi=heard.sounding_midi,
        expected=heard.expected,
        asked_index=heard.asked_index,
        partial=heard.partial,
        readable=not reasons,
        reasons=reasons,
        f0_hz=hz_shifted(heard.target_hz, pitch.cents),
        pitch_cents=pitch.cents,
        pitch_spread_cents=pitch.spread_cents,
        pitch_drift_cents=pitch.drift_cents,
        level_db=level_db(frames, span.steady_start_s, span.steady_end_s),
        level_spread_db=spread_db,
        level_drift_db_per_s=drift_db_per_s,
        vibrato=pitch.waves.vibrato,
        attack=start,
        release=stop,
        hnr_db=clean.hnr_db,
        colour=tint,
        shape=form,
        course=_course(frames, span, heard.target_hz),
        steady_start_s=span.steady_start_s,
        steady_end_s=span.steady_end_s,
        uncertainty=dict(ChainMap(*errors, start_errors, stop_errors, clean.errors, tint_errors, form_errors)),
        hidden={**clean.hidden, **hidden},
        collapse_at_s=_collapse(frames, span) if asked.shape in PLAIN else None,
        dropouts=_dropouts(frames, span),
    )


def _pitch(frames: Frames, span: Span, target_hz: float, window_s: float, pulses_per_second: float) -> Pitch:
    part = frames_between(frames, span.steady_start_s, span.steady_end_s)
    middle_cents = cents_between(median(frames.f0_hz[part]), target_hz)
    cents = cents_course(frames, span.steady_start_s, span.steady_end_s, target_hz)
    # Traces of another octave, as high notes begin with, are no pitch of this tone (a crack is told by attack.py).
    cents = without_glitches(np.where(np.abs(cents - middle_cents) < OTHER_PITCH_CENTS, cents, np.nan))
    waves = vibrato.read(cents, frames.hop_s, window_s, pulses_per_second, target_hz)
    known = np.isfinite(cents)
    if not known.any():
        return Pitch(middle_cents, None, None, waves)
    times_s = np.flatnonzero(known).astype(np.float64) * frames.hop_s
    plain: Doubles = cents[known] - waves.wave_cents[known]
    line = through(times_s, plain)
    off = plain - line.at(times_s)
    drift_cents = line.slope * (span.steady_end_s - span.steady_start_s)
    # The middle of the wave is the pitch: a cycle that is not whole must not pull it to its side.
    return Pitch(median(plain), float(off.std()), drift_cents, waves)


def cents_course(frames: Frames, start_s: float, end_s: float, target_hz: float) -> Doubles:
    """Pitch against ``target_hz`` of every frame between two times; NaN where none was read."""
    part = frames_between(frames, start_s, end_s)
    cents = cents_between(np.maximum(frames.f0_hz[part], 1.0), target_hz)
    sure = (frames.prominence_db[part] > VOICED_PROMINENCE_DB) & (frames.spread_cents[part] < VOICED_SPREAD_CENTS)
    return np.where(sure, cents, np.nan)


def _level_line(frames: Frames, span: Span) -> tuple[float | None, float | None]:
    """(SD of 100 ms windows about a line, its slope in dB a second) of the steady part."""
    times_s, levels_db = level_course(frames, span.steady_start_s, span.steady_end_s)
    if len(levels_db) < LEAST_WINDOWS:
        return None, None
    line = through(times_s, levels_db)
    return float((levels_db - line.at(times_s)).std()), line.slope


def _snr_db(frames: Frames, span: Span, room: Room) -> float:
    part = frames_between(frames, span.steady_start_s, span.steady_end_s)
    return decibels(median(frames.tonal_power[part])) - decibels(room.band_power)


def _spoilt(span: Span, snr_db: float, audio: AudioInfo) -> tuple[tuple[str, ...], Mapping[str, str]]:
    """(why the tone cannot be read at all, which of its measures are spoilt by what)."""
    reasons = []
    if span.end_s - span.start_s < LEAST_READABLE_S:
        reasons.append("tone_too_short")
    if snr_db < PITCH_SNR_DB:
        reasons.append("room_too_loud")
    hidden: dict[str, str] = {}
    if snr_db < STEADY_SNR_DB:
        hidden |= dict.fromkeys(OF_STEADINESS, "room_hides_steadiness")
    if sum(span.start_s <= at_s <= span.end_s for at_s in audio.clipped_at_s) >= CLIPPED_PLACES:
        hidden |= dict.fromkeys(OF_LEVEL, "too_close")
    return tuple(reasons), hidden


def _course(frames: Frames, span: Span, target_hz: float) -> Course:
    every = round(COURSE_STEP_S / frames.hop_s)
    cents = cents_course(frames, span.start_s, span.end_s, target_hz)[::every]
    half_s = COURSE_WINDOW_S / 2.0
    _, levels_db = level_course(
        frames, max(0.0, span.start_s - half_s), span.end_s + half_s, COURSE_WINDOW_S, COURSE_STEP_S
    )
    seen: dict[float, float] = {}  # equal values are one object: an hour holds 300,000 of them
    tenths = (np.round(values, 1).tolist() for values in (cents, levels_db))
    course, levels = (tuple(seen.setdefault(value, value) for value in values) for values in tenths)
    return Course(COURSE_STEP_S, tuple(None if math.isnan(value) else value for value in course), levels)


def _collapse(frames: Frames, span: Span) -> float | None:
    """Where the level of the steady part first falls by more than 3 dB within half a second and stays down.

    Medians of 0.3 s: the beating of a vibrato in a room is no collapse.
    """
    times_s, levels_db = level_course(frames, span.steady_start_s, span.steady_end_s)
    width, reach = round(COLLAPSE_MEDIAN_S / COURSE_OF_LEVEL_S), round(COLLAPSE_S / COURSE_OF_LEVEL_S)
    if len(levels_db) < width + reach or np.ptp(levels_db) <= COLLAPSE_DB:
        return None
    medians = np.median(np.lib.stride_tricks.sliding_window_view(levels_db, width), axis=1)
    fallen = np.flatnonzero(medians[:-reach] - medians[reach:] > COLLAPSE_DB)
    return float(times_s[int(fallen[0]) + width // 2]) if len(fallen) else None


def _dropouts(frames: Frames, span: Span) -> int:
    """How often the tone goes out for 60 ms and comes back."""
    width, step_s = 0.02, 0.01
    _, levels_db = level_course(frames, span.start_s, span.end_s, width, step_s)
    reach = round(DROPOUT_AROUND_S / step_s)
    if len(levels_db) <= reach or np.ptp(levels_db[OFF_EDGE:-OFF_EDGE]) < DROPOUT_DB:
        return 0
    padded = np.pad(levels_db, reach, constant_values=-np.inf)
    tops = np.lib.stride_tricks.sliding_window_view(padded, reach + 1).max(axis=1)
    around = np.minimum(tops[: len(levels_db)], tops[reach : reach + len(levels_db)])
    out = np.concatenate(([False], levels_db < around - DROPOUT_DB, [False])).astype(np.int8)
    lengths = np.flatnonzero(np.diff(out) == -1) - np.flatnonzero(np.diff(out) == 1)
    return int(np.count_nonzero(lengths * step_s >= DROPOUT_S))
