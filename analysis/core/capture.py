"""What the phone and the room did to a take: noise, clipping, level control, noise gates, a narrow microphone.

What spoils only one measure hides that measure, on every tone; a take is unreadable only when none of its tones can be
read.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from analysis.core import another_player, gating, gliding, levelling, narrow, pauses
from analysis.core.level import envelope_db
from analysis.core.reading import Room
from analysis.core.records import AudioInfo, Capture, Frames, Tone
from analysis.core.units import decibels, median
from analysis.core.voicing import DIGITAL_SILENCE, floor_power

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles
    from analysis.core.tones import Found

    Flags = NDArray[np.bool_]

AFTER_TONE_S = 0.35  # the room's tail is no noise
LEAST_QUIET_S = 0.2
CLIPPED_PLACES = 3
OF_LEVEL_CONTROL = ("level_db", "level_spread_db", "level_drift_db_per_s", "shape", "rise_s", "air_before_s")
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
    noise = pauses.courses_of(frames, found)
    gated = gating.is_gated(frames, found, level_db, noise)
    controlled = levelling.of_attacks(frames, tones) or levelling.of_shapes(frames, found, tones)
    controlled = controlled or gliding.from_tone_to_tone(frames, tones)
    controlled = controlled or (
        not gated and (pauses.follow_tones(noise, tones) or gliding.through_tones(noise, tones))
    )
    readable = any(tone.readable for tone in tones)
    company = another_player.between(frames, found)
    reasons = [] if readable else [_why_not(level_db, tones, company)]
    reasons += ["cut_short"] if audio.truncated else []
    reasons += ["level_control_suspected"] if controlled else []
    if (company or another_player.names(tones)) and another_player.CODE not in reasons:
        reasons.append(another_player.CODE)
    reasons += ["noise_gate"] if gated else []
    reasons += ["narrow_band"] if tones and narrow.is_narrow(frames, tones, audio) else []
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
