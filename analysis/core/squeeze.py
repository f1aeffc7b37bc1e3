"""The possible squeezed soft tone: what level alone does not explain, over several days.

Soft is duller than loud on every reed instrument. So nothing is held against a norm: each soft tone is held against
the same player's medium-loud tones of that note, own line from level to brightness, own usual noise. One sign means
nothing; two signs on two days mean "listen here". A leak, a hard reed or a closed mouthpiece gives the same picture,
so the words never speak of biting.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from analysis.core.records import Dynamic, Tone
from analysis.core.squeeze_signs import (
    Sign,
    SignName,
    SoftReading,
    is_medium,
    is_soft,
    of_collapse,
    of_colour,
    of_noise,
    of_pitch,
    of_range,
    of_start,
)

GROUP_SEMITONES = 2  # notes so near share a line and a usual noise
LEAST_SIGNS, LEAST_DAYS = 2, 2


@dataclass(frozen=True, slots=True)
class PossibleSqueeze:
    """A note that shows ``LEAST_SIGNS`` signs on ``LEAST_DAYS`` days; their ``signs``, newest first."""

    written_midi: int
    days: tuple[str, ...]
    signs: tuple[Sign, ...]

    @property
    def names(self) -> tuple[SignName, ...]:
        return tuple(dict.fromkeys(sign.name for sign in self.signs))


def reading(tone: Tone, *, on: str, dynamic: Dynamic, set_up: str, key: str = "") -> SoftReading:
    """What ``tone`` has to say here; what something spoiled is left out."""
    hidden = tone.hidden
    air, rise = tone.attack.air_before_s, tone.attack.rise_s
    known_start = air is not None and rise is not None and "rise_s" not in hidden and "air_before_s" not in hidden
    return SoftReading(
        on=on,
        written_midi=tone.written_midi,
        dynamic=dynamic,
        set_up=set_up,
        pitch_cents=None if "pitch_cents" in hidden else tone.pitch_cents,
        level_db=None if "level_db" in hidden else tone.level_db,
        centroid_hz=None if "colour" in hidden else tone.colour.centroid_hz,
        onset_s=(air or 0.0) + (rise or 0.0) if known_start else None,
        hnr_db=None if "hnr_db" in hidden else tone.hnr_db,
        collapse_at_s=None if "level_db" in hidden else tone.collapse_at_s,
        dropouts=tone.dropouts,
        at_s=(tone.start_s, tone.end_s),
        key=key,
    )


def signs(readings: Sequence[SoftReading]) -> tuple[PossibleSqueeze, ...]:
    """Notes worth listening to together, those with most signs first. ``readings``: a few weeks, any order."""
    ordered = sorted(readings, key=lambda r: (r.on, r.written_midi))
    drift = _session_drift(ordered)
    found = [
        squeeze
        for note in sorted({r.written_midi for r in ordered if is_soft(r)})
        if (squeeze := _of_note(note, ordered, drift)) is not None
    ]
    return tuple(sorted(found, key=lambda one: (-len(one.names), one.written_midi)))


def _of_note(note: int, readings: Sequence[SoftReading], drift: Mapping[str, float]) -> PossibleSqueeze | None:
    own = [r for r in readings if r.written_midi == note]
    near = [r for r in readings if abs(r.written_midi - note) <= GROUP_SEMITONES]
    soft = [r for r in own if is_soft(r)]
    found = [
        *of_pitch(own, soft, drift),
        *of_start(soft),
        *of_noise(soft, near),
        *of_colour(soft, near),
        *of_collapse(soft),
        *of_range(own, soft),
    ]
    by_day: dict[str, list[Sign]] = {}
    for sign in found:
        by_day.setdefault(sign.on, []).append(sign)
    days = sorted((on for on, told in by_day.items() if len({s.name for s in told}) >= LEAST_SIGNS), reverse=True)
    if len(days) < LEAST_DAYS:
        return None
    return PossibleSqueeze(note, tuple(days), tuple(sign for on in days for sign in by_day[on]))


def _session_drift(readings: Sequence[SoftReading]) -> Mapping[str, float]:
    """How far each day lies off as a whole: a cold horn or a moved mouthpiece is no sign of anything else."""
    days: dict[str, list[float]] = {}
    for one in readings:
        if is_medium(one) and one.pitch_cents is not None:
            days.setdefault(one.on, []).append(one.pitch_cents)
    return {on: float(np.median(cents)) for on, cents in days.items()}
