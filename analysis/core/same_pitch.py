"""One sounding pitch played in two ways, as a partial of a low fingering and with its normal fingering: how alike.

Both sound from one spot into one recording. A room lifts and drowns other partials as soon as they lie a few hertz
apart, so its part stands in the error of each (core.room). The partial's pitch is held against
the exact harmonic, the fingered note's against equal temperament; the fifth partial lies 14 cents under its note even
when both are in tune. Plain numbers, no arrays: pages read this.
"""

from __future__ import annotations

import math

from analysis.core.records import Difference, SamePitch, Tone

SURE = 2.0  # standard deviations within which a difference may lie
COUNTED_DB = 60.0  # under the strongest partial: deeper ones are noise


def compare(overtone: Tone, fingered: Tone) -> SamePitch:
    """``overtone`` beside ``fingered``, both readable; differences are overtone minus fingered note."""
    cents = 1200.0 * math.log2(overtone.f0_hz / fingered.f0_hz)
    both = min(len(overtone.colour.levels_db), len(fingered.colour.levels_db))
    return SamePitch(
        overtone_cents=Difference(overtone.pitch_cents, _error(overtone, "pitch_cents")),
        fingered_cents=Difference(fingered.pitch_cents, _error(fingered, "pitch_cents")),
        between_cents=Difference(cents, _errors(overtone, fingered, "pitch_cents")),
        in_tune_cents=cents - overtone.pitch_cents + fingered.pitch_cents,
        brightness_pct=_brightness(overtone, fingered, both),
        tilt_db_per_octave=_apart(overtone, fingered, "tilt_db_per_octave"),
        odd_even_db=_apart(overtone, fingered, "odd_even_db"),
        partials=both,
    )


def is_alike(difference: Difference, limit: float) -> bool | None:
    """Whether it surely lies within ``limit`` either way; None where the reading can't tell."""
    reach = SURE * difference.error
    if abs(difference.value) + reach <= limit:
        return True
    return False if abs(difference.value) - reach > limit else None


def _brightness(overtone: Tone, fingered: Tone, both: int) -> Difference | None:
    """How much higher the centroid lies, in per cent of the fingered note's; over the same number of partials."""
    one, other = (centroid(tone.colour.levels_db[:both]) for tone in (overtone, fingered))
    if one is None or other is None:
        return None
    parts = [_error(tone, "centroid_harmonics") / middle for tone, middle in ((overtone, one), (fingered, other))]
    return Difference(100.0 * (one / other - 1.0), 100.0 * math.hypot(*parts))


def centroid(levels_db: tuple[float, ...]) -> float | None:
    """Amplitude-weighted mean partial number; None where nothing sounds."""
    if not levels_db:
        return None
    loudest_db = max(levels_db)
    amplitudes = [
        10.0 ** ((level - loudest_db) / 20.0) if level > loudest_db - COUNTED_DB else 0.0 for level in levels_db
    ]
    return sum(number * amplitude for number, amplitude in enumerate(amplitudes, 1)) / sum(amplitudes)


def _apart(overtone: Tone, fingered: Tone, name: str) -> Difference | None:
    one, other = getattr(overtone.colour, name), getattr(fingered.colour, name)
    return None if one is None or other is None else Difference(one - other, _errors(overtone, fingered, name))


def _errors(overtone: Tone, fingered: Tone, name: str) -> float:
    return math.hypot(_error(overtone, name), _error(fingered, name))


def _error(tone: Tone, name: str) -> float:
    return float(tone.uncertainty.get(name, 0.0))
