"""Which note each tone is, and which of the tones that were asked for it answers.

Asked and heard are laid beside each other at the least cost: a right note costs nothing, one missing or extra costs
one (so a wrong note is one missing and one extra). Of overtone work a tone in the place of one that is missing is asked
which partial of that fingering it is, before anybody judges its pitch. Where everything lies a fixed interval off, that
is said: most likely another horn was played than was chosen.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.records import Asked
from analysis.core.tables import Instrument, hz_of_midi, instruments, note_name
from analysis.core.units import midi_of_hz

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.tones import Found

RIGHT_SEMITONES = 0.7  # farther from what was asked than this it is another note
SKIP_COST = 1.0
GOES_ON_S = 0.25
LONGER_IS_MEANT, LONG_S = 0.02, 8.0  # of two tries at one note the longer was meant
OFF_COST = 0.01  # of two notes both near enough the nearer was meant
OTHER_PARTIAL_COST = 1.5  # of overtone work: less than one missing and one extra, more than to wait for the right one
HIGHEST_PARTIAL = 10  # above it partials lie so close that any pitch would be one
SHIFT_LEAVES, LEAST_FOR_SHIFT = 0.1, 3  # share of wrong tones that a right guess may leave; tones it takes to guess
TUNED_FROM_SEMITONES, TUNED_AGREEMENT = 0.3, 0.9  # a whole take this far off, and this much of one mind, is out of tune


@dataclass(frozen=True, slots=True)
class Heard:
    """What one tone is. ``target_hz``: the pitch it is judged against; overtones: the exact partial."""

    written_midi: int
    sounding_midi: int
    target_hz: float
    expected: bool | None  # None: nothing was asked for
    asked_index: int | None = None
    partial: int | None = None


@dataclass(frozen=True, slots=True)
class Alignment:
    heard: tuple[Heard, ...]  # one a tone, in order
    missing: tuple[str, ...]  # written notes asked for and not heard
    shifted_semitones: int = 0  # everything that was asked for was heard, only this much higher
    sounds_like: str | None = None  # the horn on which it would have been right


def align(found: Sequence[Found], asked: Sequence[Asked], horn: Instrument, a4_hz: float) -> Alignment:
    """Names for the tones of a take, and what of ``asked`` they answer."""
    pitches = [midi_of_hz(tone.f0_hz, a4_hz) for tone in found]
    if not asked:
        off = tuning_semitones(pitches)
        return Alignment(tuple(_named(round(pitch - off), horn, a4_hz, None) for pitch in pitches), ())
    targets = [horn.sounding(one.written_midi) + 12.0 * math.log2(one.partial or 1) for one in asked]
    lengths_s = [tone.span.end_s - tone.span.start_s for tone in found]
    partials = _partials(asked, pitches, horn)
    pairs = _pairs(targets, pitches, lengths_s, partials > 0)
    right = {number for number, index in pairs.items() if abs(targets[index] - pitches[number]) <= RIGHT_SEMITONES}
    heard = []
    for number, pitch in enumerate(pitches):
        index = pairs.get(number)
        if index is None:
            heard.append(_named(round(pitch), horn, a4_hz, False))
        elif number in right:
            heard.append(_answer(asked[index], index, targets[index], horn, a4_hz))
        else:
            heard.append(_other_partial(asked[index], index, int(partials[index, number]), horn, a4_hz))
    answered = {pairs[number] for number in right}
    missing = tuple(
        note_name(horn.written(round(target))) for index, target in enumerate(targets) if index not in answered
    )
    return Alignment(tuple(heard), missing, *_shift(targets, pitches, lengths_s, horn, len(right)))


def broken(found: Sequence[Found], heard: Sequence[Heard]) -> frozenset[int]:
    """Numbers of the tones that go on, after a short silence, in the next one, though one tone only was asked for.

    Without asking they would be two: a new tongue stroke and a tone that goes out for a moment sound alike.
    """
    pairs = zip(range(len(found)), pairwise(found), pairwise(heard), strict=False)
    return frozenset(
        number
        for number, (tone, after), (name, next_name) in pairs
        if name.sounding_midi == next_name.sounding_midi
        and {name.expected, next_name.expected} == {True, False}
        and after.span.start_s - tone.span.end_s < GOES_ON_S
    )


def tuning_semitones(pitches: Sequence[float]) -> float:
    """How far a whole take lies off its notes when nearly half a semitone would make their names a toss-up, else 0."""
    if len(pitches) < LEAST_FOR_SHIFT:
        return 0.0
    turn = np.exp(2j * np.pi * np.asarray(pitches)).mean()
    off = float(np.angle(turn)) / (2.0 * np.pi)
    return off if abs(turn) >= TUNED_AGREEMENT and abs(off) >= TUNED_FROM_SEMITONES else 0.0


def _named(sounding_midi: int, horn: Instrument, a4_hz: float, expected: bool | None) -> Heard:
    return Heard(horn.written(sounding_midi), sounding_midi, hz_of_midi(sounding_midi, a4_hz), expected)


def _answer(one: Asked, index: int, target: float, horn: Instrument, a4_hz: float) -> Heard:
    """``target``: sounding MIDI number, exact for partials (n times the fingered note in equal temperament)."""
    sounding_midi = round(target)
    return Heard(horn.written(sounding_midi), sounding_midi, hz_of_midi(target, a4_hz), True, index, one.partial)


def _other_partial(one: Asked, index: int, partial: int, horn: Instrument, a4_hz: float) -> Heard:
    """A tone in the place of overtone work that is another partial of its fingering: not what was expected."""
    exact = horn.sounding(one.written_midi) + 12.0 * math.log2(partial)
    return replace(_answer(replace(one, partial=partial), index, exact, horn, a4_hz), expected=False)


def _partials(asked: Sequence[Asked], pitches: Sequence[float], horn: Instrument) -> NDArray[np.int64]:
    """(asked, heard) which partial of the fingered note each tone is; 0: none, or nobody asked for one."""
    fingered = np.asarray([math.nan if one.partial is None else horn.sounding(one.written_midi) for one in asked])
    over = np.subtract.outer(np.asarray(pitches), fingered).T
    nearest = np.clip(np.nan_to_num(np.rint(2.0 ** (over / 12.0)), nan=1.0), 1.0, HIGHEST_PARTIAL)
    is_one = np.abs(over - 12.0 * np.log2(nearest)) <= RIGHT_SEMITONES
    return np.where(is_one, nearest, 0.0).astype(np.int64)


def _pairs(
    targets: Sequence[float],
    pitches: Sequence[float],
    lengths_s: Sequence[float],
    is_partial: NDArray[np.bool_] | bool = False,
) -> dict[int, int]:
    """{number of the tone: index of what was asked} of the least-cost alignment.

    ``is_partial``: (asked, heard) where a tone is some partial of what was to be fingered.
    """
    off = np.abs(np.subtract.outer(np.asarray(targets), np.asarray(pitches)))
    right = np.where(off <= RIGHT_SEMITONES, OFF_COST * off, np.where(is_partial, OTHER_PARTIAL_COST, np.inf))
    extra = SKIP_COST + LONGER_IS_MEANT * np.minimum(np.asarray(lengths_s) / LONG_S, 1.0)
    rows, columns = right.shape
    cost = np.zeros((rows + 1, columns + 1))
    cost[0, 1:] = np.cumsum(extra)
    for row in range(1, rows + 1):
        cost[row, 0] = row * SKIP_COST
        best = np.minimum(cost[row - 1, 1:] + SKIP_COST, cost[row - 1, :-1] + right[row - 1]).tolist()
        before = float(cost[row, 0])
        for column, other in enumerate(best):
            before = min(before + float(extra[column]), other)
            cost[row, column + 1] = before
    pairs, row, column = {}, rows, columns
    while row and column:
        if math.isclose(cost[row, column], cost[row - 1, column - 1] + right[row - 1, column - 1]):
            row, column = row - 1, column - 1
            pairs[column] = row
        elif math.isclose(cost[row, column], cost[row - 1, column] + SKIP_COST):
            row -= 1
        else:
            column -= 1
    return pairs


def _shift(
    targets: Sequence[float], pitches: Sequence[float], lengths_s: Sequence[float], horn: Instrument, matched: int
) -> tuple[int, str | None]:
    """(semitones by which everything lies higher than asked, the horn that explains it), (0, None) if it does not."""
    horns = {other.sounds_semitones - horn.sounds_semitones: other.name for other in instruments().values()}
    shifts = sorted({*horns, -horn.sounds_semitones, -2, -1, 1, 2} - {0})
    both = len(targets) + len(pitches)
    wrong = both - 2 * matched  # missing and extra together
    if min(len(targets), len(pitches)) < LEAST_FOR_SHIFT or wrong <= SHIFT_LEAVES * both:
        return 0, None
    left = {k: both - 2 * len(_pairs([target + k for target in targets], pitches, lengths_s)) for k in shifts}
    best = min(shifts, key=lambda k: (left[k], k not in horns))
    if left[best] > SHIFT_LEAVES * both or wrong - left[best] < LEAST_FOR_SHIFT:
        return 0, None
    return best, horns.get(best)
