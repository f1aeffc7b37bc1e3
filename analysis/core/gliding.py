"""A gain that takes seconds glides through tones and pauses alike: the tones tell of it by their own slopes.

A phone that levels slowly goes on doing so whether a tone sounds or not. So within a tone the level moves as the room's
noise did from the pause before it to the pause after it; and where breath covers the noise, the step from one tone to
the next is what the slopes of both make of the time between. Noise that wanders by itself moves no tone. A player who
grows through a phrase makes such steps, but grows brighter with them.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.levelling import DB_FOR_E, brightening_per_s
from analysis.core.lines import r_squared, through
from analysis.core.units import median

if TYPE_CHECKING:
    from analysis.core.pauses import Courses
    from analysis.core.records import Doubles, Frames, Tone

# Without a control real takes, rooms and codecs, and noise that wanders by up to 10 dB, leave r² under 0.15 in tones
# beside their pauses; levelled in four ways that take seconds 0.55 and more (i1 to i6), and the slope is about one.
LEAST_TONES, NOISE_DB, OF_NOISE_R2 = 12, 4.0, 0.5
# Of steps 0.08 without, 0.85 and more with one, all of them or all but the seventh part that fits least: beside a note
# that the player made louder. SoundFont tones that fade or grow by themselves stay under 0.3.
LEAST_STEPS, CARRIED_DB, OF_STEPS_R2, OWN_PERCENT = 10, 3.0, 0.75, 15
SLOPES = (0.5, 1.5)
BY_BRIGHTNESS = 1.0 / 3.0  # a reed's own swelling is answered for by its brightness altogether


def through_tones(courses: Courses, tones: Sequence[Tone]) -> bool:
    """Whether tones rise and fall as the noise does from the pause before each to the pause after it."""
    noise_db, moved_db = [], []
    for number, course in courses.items():
        tone, before = tones[number], courses.get(number - 1)
        if before is None or tone.level_drift_db_per_s is None or number + 1 >= len(tones):
            continue
        between_s = (tones[number + 1].start_s + tone.end_s - tone.start_s - tones[number - 1].end_s) / 2.0
        noise_db.append((median(course) - median(before)) * _steady_s(tone) / between_s)
        moved_db.append(tone.level_drift_db_per_s * _steady_s(tone))
    levels_db = [median(course) for course in courses.values()]
    if len(noise_db) < LEAST_TONES or np.ptp(np.percentile(levels_db, [5, 95])) < NOISE_DB:
        return False
    return _agree(np.array(noise_db), np.array(moved_db), OF_NOISE_R2)


def from_tone_to_tone(frames: Frames, tones: Sequence[Tone]) -> bool:
    """Whether each tone goes on where the slope of the one before it would have led, and no brighter for it."""
    sloping = [(tone, tone.level_drift_db_per_s) for tone in tones if tone.level_drift_db_per_s is not None]
    if len(sloping) <= LEAST_STEPS:
        return False
    slopes = np.array([slope for _, slope in sloping])
    middles_s = np.array([(tone.steady_start_s + tone.steady_end_s) / 2.0 for tone, _ in sloping])
    steps_db = np.diff([tone.level_db for tone, _ in sloping])
    carried_db = (slopes[1:] + slopes[:-1]) / 2.0 * np.diff(middles_s)
    if np.ptp(carried_db) < CARRIED_DB:
        return False
    own_db = np.abs(steps_db - carried_db)
    fits = own_db <= np.percentile(own_db, 100 - OWN_PERCENT)
    if not (_agree(carried_db, steps_db, OF_STEPS_R2) or _agree(carried_db[fits], steps_db[fits], OF_STEPS_R2)):
        return False
    brighter = np.array([brightening_per_s(frames, tone) for tone, _ in sloping])
    return DB_FOR_E * through(slopes, brighter).slope < BY_BRIGHTNESS


def _steady_s(tone: Tone) -> float:
    return tone.steady_end_s - tone.steady_start_s


def _agree(expected_db: Doubles, moved_db: Doubles, least_r2: float) -> bool:
    least, most = SLOPES
    return r_squared(expected_db, moved_db) >= least_r2 and least <= through(expected_db, moved_db).slope <= most
