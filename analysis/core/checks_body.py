"""Checks of what lies between start and stop: pitch, steadiness, level, shape, vibrato."""

from __future__ import annotations

import math

import numpy as np

from analysis.core.against import against, error_of, flag, hidden
from analysis.core.moments import around, beyond, cents, last_part, levels, most_moved
from analysis.core.records import Asked, Check, LevelScale, Target, Tone
from analysis.core.shape_limits import Look, heard_at, looks
from analysis.core.targets import dynamics, mark_place

LEAST_SPAN_DB = 3.0  # a scale shorter than this has no steps to tell apart


def pitch(tone: Tone, asked: Asked, target: Target) -> Check:
    """Median against the reference and this horn's own lie on the note; of partials against the exact harmonic.

    A vibrato that dips below the tone lowers its mean by half its width: then its upper edge may be the note meant.
    """
    if "pitch_cents" in tone.hidden:
        return hidden("pitch", "pitch_cents")
    middle = 0.0 if asked.partial is not None else target.note_offset_cents
    off = tone.pitch_cents - middle
    if asked.pulses_per_second > 0.0 and tone.vibrato.extent_cents is not None:
        off = min(off, off + tone.vibrato.extent_cents, key=abs)
    found = beyond(tone, middle, target.pitch_cents)
    place = found[0] if found is not None else (tone.steady_start_s, tone.steady_end_s)
    code = "pitch_high" if off > 0.0 else "pitch_low"
    error = error_of(tone, "pitch_cents")
    return against("pitch", "pitch_cents", abs(off), target.pitch_cents, error=error, code=code, at_s=place)


def steadiness(tone: Tone, target: Target, *, level_known: bool, waved: bool) -> list[Check]:
    """Pitch and level of a plain tone, held still. ``waved``: vibrato was asked for; then its waves decide instead."""
    must = not waved
    checks = [_pitch_spread(tone, target, must), _pitch_drift(tone, target, must)]
    if not level_known:
        return [*checks, hidden("steadiness", "level_spread_db", must)]
    if not (waved or tone.vibrato.present):  # in a room the waves of a vibrato beat with their own reflections
        checks.append(_level_spread(tone, target))
    drift = tone.level_drift_db_per_s
    checks.append(
        against(
            "steadiness",
            "level_drift_db_per_s",
            None if drift is None else abs(drift),
            target.level_drift_db_per_s,
            error=error_of(tone, "level_drift_db_per_s"),
            must=must,
            code="level_fades" if (drift or 0.0) < 0.0 else "level_grows",
            at_s=last_part(tone),
        )
    )
    place = None if tone.collapse_at_s is None else around(tone, tone.collapse_at_s)
    checks.append(flag("steadiness", "collapse_at_s", place is not None, must=must, code="level_collapses", at_s=place))
    checks.append(flag("steadiness", "dropouts", tone.dropouts > 0, must=must, code="tone_drops_out", at_s=place))
    return checks


def _pitch_spread(tone: Tone, target: Target, must: bool) -> Check:
    if "pitch_spread_cents" in tone.hidden:
        return hidden("steadiness", "pitch_spread_cents", must)
    found = most_moved(tone, cents(tone))
    code, place = "pitch_wavers", None
    if found is not None:
        place, mean = found
        # One way for most of that second is a climb or a sinking; to and fro is a waver.
        if abs(mean) > 0.7 * (tone.pitch_spread_cents or 0.0):
            code = "pitch_bulges_up" if mean > 0.0 else "pitch_bulges_down"
    return against(
        "steadiness",
        "pitch_spread_cents",
        tone.pitch_spread_cents,
        target.pitch_spread_cents,
        error=error_of(tone, "pitch_spread_cents"),
        must=must,
        code=code,
        at_s=place,
        noise_adds=True,
    )


def _pitch_drift(tone: Tone, target: Target, must: bool) -> Check:
    if "pitch_spread_cents" in tone.hidden:
        return hidden("steadiness", "pitch_drift_cents", must)
    length_s = max(tone.steady_end_s - tone.steady_start_s, 0.1)
    drift = tone.pitch_drift_cents
    return against(
        "steadiness",
        "pitch_drift_cents",
        None if drift is None else abs(drift) / length_s,
        target.pitch_drift_cents_per_s,
        error=error_of(tone, "pitch_drift_cents") / length_s,
        must=must,
        code="pitch_sinks" if (drift or 0.0) < 0.0 else "pitch_climbs",
        at_s=last_part(tone),
    )


def _level_spread(tone: Tone, target: Target) -> Check:
    if "level_spread_db" in tone.hidden:
        return hidden("steadiness", "level_spread_db")
    found = most_moved(tone, levels(tone))
    return against(
        "steadiness",
        "level_spread_db",
        tone.level_spread_db,
        target.level_spread_db,
        error=error_of(tone, "level_spread_db"),
        code="level_wavers",
        at_s=None if found is None else found[0],
        noise_adds=True,
    )


def shape(tone: Tone, target: Target, *, level_known: bool) -> list[Check]:
    """The shape that was asked for, question by question; without level there is no shape to see."""
    if not level_known or "shape" in tone.hidden or tone.shape.met is None:
        return [hidden("shape", "shape")]
    return [_of_shape(tone, look) for look in looks(tone.shape, target)]


def _of_shape(tone: Tone, look: Look) -> Check:
    """Nearer to its limit than the reading can tell is "unsure", on either side."""
    part, error = look.measure or look.part, error_of(tone, look.part)
    if look.measure and look.value is not None and abs(look.value - look.limit) < error:
        return Check("shape", "unsure", True, look.value, look.limit, part=part)
    if look.met:
        return Check("shape", "met", True, look.value, look.limit, part=part)
    return Check("shape", "missed", True, look.value, look.limit, look.code, _place(tone, look), part)


def _place(tone: Tone, look: Look) -> tuple[float, float] | None:
    if look.part == "pitch_range_cents" and (moved := most_moved(tone, cents(tone))) is not None:
        return moved[0]
    return heard_at(tone.shape, look.part, tone.start_s, tone.end_s)


def level(tone: Tone, asked: Asked, target: Target, scale: LevelScale | None, *, level_known: bool) -> list[Check]:
    """Whether a plain mark lies about where it should on the player's own scale of the day.

    Softer than the softest is still soft.
    """
    if scale is None:
        return []
    span_db = scale.loudest_db - scale.softest_db
    if not level_known or "level_db" in tone.hidden or span_db < LEAST_SPAN_DB:
        return [hidden("level", "level_db")]
    table = dynamics()["scale"]
    step_db = span_db / table["steps"]
    held_db = float(np.clip(tone.level_db, scale.softest_db, scale.loudest_db))
    off = (held_db - scale.softest_db) / step_db - mark_place(asked.dynamic)
    error = math.hypot(table["room_sd_db"], error_of(tone, "level_db")) / step_db
    place = (tone.steady_start_s, tone.steady_end_s)
    code = "too_loud" if off > 0.0 else "too_soft"
    # The room's share is given to the player rather than called unsure: on a short scale all would be unsure.
    return [against("level", "level_db", max(0.0, abs(off) - error), target.level_steps, code=code, at_s=place)]


def unasked_vibrato(tone: Tone) -> Check:
    """Waves in a tone that was to be plain: the teacher may want to know, nothing is decided by it."""
    place = (tone.steady_start_s, tone.steady_end_s)
    return flag("vibrato", "present", tone.vibrato.present, must=False, code="vibrato_unasked", at_s=place)


def vibrato(tone: Tone, asked: Asked, target: Target) -> list[Check]:
    """Waves at the pulse that was set.

    Rate decides; extent only advises, and narrow not even that: a room makes waves smaller.
    """
    wave, place = tone.vibrato, (tone.steady_start_s, tone.steady_end_s)
    if "vibrato" in tone.hidden:
        return [hidden("vibrato", "rate_hz")]
    if not wave.present or wave.rate_hz is None or wave.extent_cents is None:
        return [flag("vibrato", "present", True, code="vibrato_not_there", at_s=place)]
    off = wave.rate_hz / asked.pulses_per_second - 1.0
    error = error_of(tone, "rate_hz") / asked.pulses_per_second
    code = "vibrato_fast" if off > 0.0 else "vibrato_slow"
    advice = (
        ("extent_cents", wave.extent_cents, target.extent_to_cents, "vibrato_wide"),
        ("rate_cv", wave.rate_cv, target.rate_cv, "vibrato_uneven"),
        ("extent_cv", wave.extent_cv, target.extent_cv, "vibrato_uneven"),
    )
    return [
        against("vibrato", "rate_hz", abs(off), target.pulse_share, error=error, code=code, at_s=place),
        *(
            against("vibrato", part, value, limit, error=error_of(tone, part), must=False, code=code, at_s=place)
            for part, value, limit, code in advice
        ),
    ]
