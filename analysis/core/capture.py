"""What the phone and the room did to a take: noise, clipping, level control, noise gates, a narrow microphone.

What spoils only one measure hides that measure, on every tone; a take is unreadable only when none of its tones can be
read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core import another_player, levelling
from analysis.core.level import envelope_db
from analysis.core.reading import Room
from analysis.core.records import AudioInfo, Capture, Frames, Tone
from analysis.core.units import decibels, median
from analysis.core.voicing import DIGITAL_SILENCE, floor_power

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats
    from analysis.core.tones import Found

    Flags = NDArray[np.bool_]

AFTER_TONE_S = 0.35  # the room's tail is no noise
LEAST_QUIET_S = 0.2
CLIPPED_PLACES = 3
# Level control. Without it the first 0.12 s of a tone lie 0 to 0.6 dB over its body (1.9 on an accented instrument),
# with it 2.7 to 8: tried on real tones, with and without simulated controls.
LEAST_TONES, LEAST_NOTES, ACCENT_DB, LEAST_ACCENT_DB, LEAST_ACCENT_PERCENTILE = 4, 3, 2.5, 1.5, 20
# Climb in the pauses with the accent it needs beside it: a slow gain climbs less, and then accents the more.
CLIMBS_DB, CLIMBING_GAPS = ((5.0, 1.5), (3.0, 3.0)), 0.6
OF_LEVEL_CONTROL = ("level_db", "level_spread_db", "level_drift_db_per_s", "shape", "rise_s", "air_before_s")
# A gate is looked for 25 dB and more under the tone before. In steps of 5 ms: noise still for 50 ms into which the tone
# fell (a breath rises out of something softer), then 12 dB less within another 60 ms.
GATE_UNDER_DB, GATE_LOOKS, GATE_STEADY, GATE_FALL = 25.0, 60, 10, 12
GATE_STEADY_DB, GATE_FALL_DB, GATE_RISE_DB, GATE_ALIKE_DB, GATED_GAPS = 5.0, 12.0, 3.0, 2.5, 0.6
# A telephone's band: a saxophone loses 10 to 25 dB from the first of these bands to the second, a line all of it.
INSIDE_HZ, BEYOND_HZ = (2_000.0, 3_400.0), (4_600.0, 9_000.0)
NARROW_DB, NARROW_QUIET_DB, NARROW_SHARE = 45.0, 36.0, 0.8
PARTIALS_IN_BAND = 64.0  # lobes that the band of noise_power has room for
SLOW_RATE_HZ = 16_000
QUIET_DBFS, QUIET_SNR_DB = -50.0, 25.0
SILENT_DBFS = -80.0


def room_of(frames: Frames, found: Sequence[Found]) -> Room:
    """The place without its tones, for those who read them."""
    quiet = _outside(found, len(frames.f0_hz), frames.hop_s)
    noise = frames.noise_power[quiet] if quiet.sum() * frames.hop_s >= LEAST_QUIET_S else frames.noise_power
    percentile = 50 if noise.size < frames.noise_power.size else 10  # tones everywhere: the least of what lies in them
    band = float(np.percentile(noise, percentile)) if noise.size else 0.0
    return Room(floor_power(frames), max(band, DIGITAL_SILENCE))


def capture_of(frames: Frames, found: Sequence[Found], tones: Sequence[Tone], audio: AudioInfo) -> Capture:
    """How the take was caught, and whether anything in it can be read."""
    level_db = envelope_db(frames)
    quiet = level_db[_outside(found, len(level_db), frames.block_s)]
    known = len(quiet) * frames.block_s >= LEAST_QUIET_S
    floor_db = median(quiet) if known else None
    snr_db = _tone_dbfs(frames, tones) - floor_db if tones and floor_db is not None else None
    controlled = _level_controlled(frames, found, tones, level_db) or levelling.of_shapes(frames, found, tones)
    readable = any(tone.readable for tone in tones)
    company = another_player.between(frames, found)
    reasons = [] if readable else [_why_not(level_db, tones, company)]
    reasons += ["cut_short"] if audio.truncated else []
    reasons += ["level_control_suspected"] if controlled else []
    if (company or another_player.names(tones)) and another_player.CODE not in reasons:
        reasons.append(another_player.CODE)
    reasons += ["noise_gate"] if tones and _gated(frames, found, level_db) else []
    reasons += ["narrow_band"] if tones and _narrow(frames, tones, audio) else []
    clipped = len(audio.clipped_at_s) >= CLIPPED_PLACES
    reasons += ["too_close"] if clipped else []
    if snr_db is not None and _tone_dbfs(frames, tones) < QUIET_DBFS and snr_db < QUIET_SNR_DB:
        reasons.append("too_quiet")
    return Capture(floor_db, snr_db, clipped, controlled, readable, tuple(reasons))


def hidden_by(capture: Capture) -> Mapping[str, str]:
    """What the capture spoils on every tone: measure -> code."""
    hidden: dict[str, str] = {}
    if "narrow_band" in capture.reasons:
        hidden |= {"colour": "narrow_band", "hnr_db": "narrow_band"}
    if "noise_gate" in capture.reasons:
        hidden |= {"hnr_db": "noise_gate", "air_before_s": "noise_gate"}
    if capture.level_control_suspected:
        hidden |= dict.fromkeys(OF_LEVEL_CONTROL, "level_control_suspected")
    return hidden


def _outside(found: Sequence[Found], count: int, step_s: float) -> Flags:
    """Of ``count`` values every ``step_s``: whether each lies outside all tones and their tails."""
    outside = np.ones(count, dtype=bool)
    for tone in found:
        first, end = (round(at_s / step_s) for at_s in (tone.span.start_s - 0.03, tone.span.end_s + AFTER_TONE_S))
        outside[max(0, first) : max(0, end)] = False
    return outside


def _why_not(level_db: Doubles, tones: Sequence[Tone], company: bool) -> str:
    if not tones and company:
        return another_player.CODE
    if not tones:
        silent = len(level_db) == 0 or float(np.percentile(level_db, 99)) < SILENT_DBFS
        return "silent" if silent else "no_tone_found"
    codes = [reason for tone in tones for reason in tone.reasons]
    return max(dict.fromkeys(codes), key=codes.count)


def _tone_dbfs(frames: Frames, tones: Sequence[Tone]) -> float:
    """Median plain level of the tones."""
    per_tone = []
    for tone in tones:
        part = frames.plain_power[
            round(tone.steady_start_s / frames.block_s) : round(tone.steady_end_s / frames.block_s)
        ]
        per_tone.append(decibels(float(part.mean())) if len(part) else decibels(0.0))
    return median(per_tone)


def _level_controlled(frames: Frames, found: Sequence[Found], tones: Sequence[Tone], level_db: Doubles) -> bool:
    """Attacks stand above their own body in note after note, or the noise climbs in the pauses with the gain.

    Note after note: a room that dulls one note lets its attack stand out each time it is played.
    """
    by_note: dict[int, list[float]] = {}
    for tone in tones:
        if tone.attack.accent_db is not None:
            by_note.setdefault(tone.written_midi, []).append(tone.attack.accent_db)
    if len(by_note) < LEAST_NOTES or sum(map(len, by_note.values())) < LEAST_TONES:
        return False
    accents = [median(of_note) for of_note in by_note.values()]
    typical, low = median(accents), float(np.percentile(accents, LEAST_ACCENT_PERCENTILE))
    if typical >= ACCENT_DB and low >= LEAST_ACCENT_DB:
        return True
    climbs = [climb for pair in pairwise(found) if (climb := _climb(frames, *pair, level_db)) is not None]
    if len(climbs) < LEAST_TONES - 1:
        return False
    usual_db = float(np.percentile(climbs, 100.0 * (1.0 - CLIMBING_GAPS)))  # so many of the gaps climb at least this
    return any(usual_db >= climb_db and typical >= accent_db for climb_db, accent_db in CLIMBS_DB)


def _climb(frames: Frames, before: Found, after: Found, level_db: Doubles) -> float | None:
    """By how many dB the noise between two tones climbs from its lowest to the next attack."""
    first, end = (round(at_s / frames.block_s) for at_s in (before.span.end_s, after.span.start_s - 0.03))
    gap = level_db[first:end]
    width = round(0.1 / frames.block_s)
    if len(gap) < 3 * width:
        return None
    means = np.convolve(gap, np.full(width, 1.0 / width), mode="valid")
    return float(means[-1] - means.min())


def _gated(frames: Frames, found: Sequence[Found], level_db: Doubles) -> bool:
    """Pause after pause the room's noise is there when the tone stops, always alike, and then falls at once."""
    held = [_noise_before_gate(frames, *pair, level_db) for pair in pairwise(found)]
    known = [db for db in held if db is not None and np.isfinite(db)]
    pauses = sum(db is not None for db in held)
    if pauses < LEAST_TONES - 1 or len(known) < GATED_GAPS * pauses:
        return False
    return float(np.std(known)) < GATE_ALIKE_DB


def _noise_before_gate(frames: Frames, before: Found, after: Found, level_db: Doubles) -> float | None:
    """Level of the noise that stands still after a tone and then falls at once; NaN: none does; None: no pause."""
    first, end = (round(at_s / frames.block_s) for at_s in (before.span.end_s, after.span.start_s - 0.05))
    tone_db = median(level_db[max(0, first - GATE_LOOKS) : first])
    low = np.flatnonzero(level_db[first:end] < tone_db - GATE_UNDER_DB)
    if len(low) == 0 or end - first - int(low[0]) < 2 * GATE_LOOKS:
        return None
    gap = level_db[first + int(low[0]) : end]
    later = np.lib.stride_tricks.sliding_window_view(gap[GATE_STEADY:], GATE_FALL).min(axis=1)
    windows = np.lib.stride_tricks.sliding_window_view(gap, GATE_STEADY)[: len(later)]
    closes = (np.ptp(windows, axis=1) < GATE_STEADY_DB) & (windows.min(axis=1) - later > GATE_FALL_DB)
    closes &= windows.mean(axis=1) < np.minimum.accumulate(gap)[: len(later)] + GATE_RISE_DB
    closes &= later < np.percentile(gap, 50) + GATE_STEADY_DB  # and what is left is the pause
    return float(windows[int(closes.argmax())].mean()) if closes.any() else float("nan")


def _narrow(frames: Frames, tones: Sequence[Tone], audio: AudioInfo) -> bool:
    """Nothing of any tone above a telephone's band though there is plenty at its upper end."""
    if audio.sample_rate_hz < SLOW_RATE_HZ:
        return True
    missing = []
    for tone in tones:
        part = slice(round(tone.steady_start_s / frames.hop_s), round(tone.steady_end_s / frames.hop_s) + 1)
        powers = frames.partials[part].mean(axis=0)
        f_hz = tone.f0_hz * np.arange(1, powers.size + 1)
        inside, beyond = (_strongest_db(powers[(f_hz > low) & (f_hz < high)]) for low, high in (INSIDE_HZ, BEYOND_HZ))
        noise_db = decibels(float(frames.noise_power[part].mean()) / PARTIALS_IN_BAND)
        if inside is not None and beyond is not None and noise_db < inside - NARROW_QUIET_DB:
            missing.append(beyond < inside - NARROW_DB)
    return len(missing) >= LEAST_TONES and sum(missing) >= NARROW_SHARE * len(missing)


def _strongest_db(powers: Floats) -> float | None:
    return decibels(float(powers.max())) if powers.size else None
