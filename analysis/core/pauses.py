"""The room's noise between the tones: a gain that follows the tones moves it too.

A phone that turns itself down for a tone and up again after it does so to everything it hears. The noise of a room
keeps its colour then and changes its level: so only looks are believed in which all bands stand to each other as in
the quietest pauses. Breath, a step, a voice have colours of their own and are passed over, and a tail only falls.
What wanders by itself rises as often as it falls, slowly, and knows nothing of the tones.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import bdtrc

from analysis.core.bands import bands_db, looks_between
from analysis.core.lines import r_squared, through

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Frames, Tone
    from analysis.core.tones import Found

    Courses = dict[int, Doubles]

AFTER_S, BEFORE_S = 0.11, 0.09  # of a pause, that the widest window may not reach back or on into a tone
LEAST_LOOKS, LEAST_PAUSES = 3, 5
QUIETEST_PERCENTILE = 30  # of the looks: their colour is the room's
OF_BANDS_PERCENTILE = 25
SAME_COLOUR_DB, HEARD_DB = 5.0, -130.0  # per bin: what lies under the second was written by a program
# Chosen on half of the material: without a control no pause rises by so much, and one in seven as much as counts as a
# move; with one a third and more do, and so many more rise than fall as chance lets happen in one of fifty takes.
RISES_DB, RISING, MOVES_DB, BY_CHANCE = 2.5, 0.33, 1.5, 0.02
# A gain that takes seconds moves tones and pauses together, decibel for decibel from one to the next; all of them, or
# all but the seventh in which they differ most: beside a note that the player made louder or softer. Without that
# seventh noise that wanders by itself agrees with the tones by 0.4 at most (24 takes), i0 and b when levelled by 0.85.
LEAST_STEPS, WITH_TONES_DB, WITH_TONES_R2, WITH_TONES_SLOPE, OWN_PERCENT = 7, 4.0, 0.81, (0.5, 2.0), 15


def courses_of(frames: Frames, found: Sequence[Found]) -> Courses:
    """Level in dB of the looks into each pause in which only the room is heard, of pauses with three such or more.

    By the number of the tone before it.
    """
    looks = [looks_between(frames, a.span.end_s + AFTER_S, b.span.start_s - BEFORE_S) for a, b in pairwise(found)]
    every = np.concatenate(looks) if looks else np.zeros(0, np.intp)
    if not len(every):
        return {}
    calm, level_db = _of_room(bands_db(frames), every)
    courses = {number: level_db[part[calm[part]]] for number, part in enumerate(looks)}
    return {number: course for number, course in courses.items() if len(course) >= LEAST_LOOKS}


def follow_tones(courses: Courses, tones: Sequence[Tone]) -> bool:
    """Whether the noise in the pauses rises from the end of each tone, or lies the higher the louder its tones are."""
    if len(courses) < LEAST_PAUSES:
        return False
    smooth = [(course[1:] + course[:-1]) / 2.0 for course in courses.values()]
    rises = np.array([course.max() - course[0] for course in smooth])
    falls = np.array([course[0] - course.min() for course in smooth])
    rising = np.count_nonzero((rises >= MOVES_DB) & (rises > falls))
    falling = np.count_nonzero((falls >= MOVES_DB) & (falls >= rises))
    often = float(np.mean((rises >= RISES_DB) & (rises > falls))) >= RISING
    if often and bdtrc(rising - 1, rising + falling, 0.5) <= BY_CHANCE:
        return True
    noise_db = np.array([course.min() for course in courses.values()])
    beside_db = np.array([(tones[number].level_db + tones[number + 1].level_db) / 2.0 for number in courses])
    return _as_one(beside_db, noise_db)


def _as_one(tones_db: Doubles, noise_db: Doubles) -> bool:
    low, high = np.percentile(noise_db, [5, 95])
    if len(noise_db) <= LEAST_STEPS or high - low < WITH_TONES_DB:
        return False
    of_tones, of_noise = np.diff(tones_db), np.diff(noise_db)
    own_db = np.abs(of_tones - of_noise)
    fits = own_db <= np.percentile(own_db, 100 - OWN_PERCENT)
    return _agree(of_tones, of_noise) or _agree(of_tones[fits], of_noise[fits])


def _agree(of_tones: Doubles, of_noise: Doubles) -> bool:
    least, most = WITH_TONES_SLOPE
    return r_squared(of_tones, of_noise) >= WITH_TONES_R2 and least <= through(of_tones, of_noise).slope <= most


def _of_room(bands: Doubles, pauses: NDArray[np.intp]) -> tuple[NDArray[np.bool_], Doubles]:
    """(looks,) whether each has the colour of the quietest of the ``pauses``, and how loud the room is in it.

    So loud as three bands of four say: where a breath begins, some already hold more than the room.
    """
    means = bands.mean(axis=1)
    heard = pauses[means[pauses] > HEARD_DB]
    if not len(heard):
        return np.zeros(len(bands), dtype=bool), means
    quiet = heard[means[heard] <= np.percentile(means[heard], QUIETEST_PERCENTILE)]
    colours = bands - means[:, None]
    colour = np.median(colours[quiet], axis=0)
    calm = (np.abs(colours - colour).max(axis=1) <= SAME_COLOUR_DB) & (means > HEARD_DB)
    return calm, np.percentile(bands - colour, OF_BANDS_PERCENTILE, axis=1)
