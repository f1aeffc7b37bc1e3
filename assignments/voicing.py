"""Who sounds which note of a chord, and whether each can: sounding notes in, sounding notes out. No rows.

A reach is the lowest and highest note of one horn's normal range as it sounds; what lies above the keys is nobody's
part here.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from pathlib import Path

from analysis.core.tables import instrument
from assignments.exercises import frozen
from studio.models import Horn

OWN, UNISON = "own", "unison"
Reach = tuple[int, int]


@dataclass(frozen=True, slots=True)
class Quality:
    """One row of data/chords.toml."""

    key: str
    title: str
    semitones: tuple[int, ...]


@cache
def qualities() -> dict[str, Quality]:
    rows = tomllib.loads((Path(__file__).parent / "data" / "chords.toml").read_text("utf-8"))
    return {key: Quality(key, **frozen(row)) for key, row in rows.items()}


def reach_of(horn: Horn) -> Reach:
    """The normal range of one horn, sounding."""
    sounds = instrument(horn.kind).sounding
    lowest, highest = horn.written_range
    return sounds(lowest), sounds(highest)


def written(horn: Horn, sounding_midi: int) -> int:
    """How the player of ``horn`` reads a sounding note."""
    return instrument(horn.kind).written(sounding_midi)


def is_reached(sounding_midi: int, reach: Reach) -> bool:
    return reach[0] <= sounding_midi <= reach[1]


def nearest_octave(sounding_midi: int, reach: Reach) -> int:
    """The same note in the octave nearest to the one asked for that the horn has. Every horn spans two and more."""
    below, above = reach[0] - sounding_midi, sounding_midi - reach[1]
    if below > 0:
        return sounding_midi + 12 * -(-below // 12)
    return sounding_midi - 12 * -(-above // 12) if above > 0 else sounding_midi


def voiced(quality: Quality, root_midi: int, inversion: int, reaches: Sequence[Reach]) -> list[int]:
    """A note for each seat, sounding: the lowest horn has the bass, the others follow upwards as close as they can.

    ``root_midi``: the root as it sounds when it is the bass; an inversion begins on the next note of the chord above
    it, and so on. Notes may lie outside of a reach: that is for a person to see and decide.
    """
    upward = sorted(range(len(reaches)), key=lambda seat: (sum(reaches[seat]), -seat))
    bass = sorted(quality.semitones)[inversion % len(quality.semitones)]
    waiting = _given_out(quality, bass, len(reaches))
    if len(quality.semitones) == 1:
        return [root_midi] * len(reaches)
    notes = dict.fromkeys(upward[:1], root_midi + bass)
    for lower, seat in pairwise(upward):
        steps = {semitone: _up(notes[lower] - root_midi, semitone) for semitone in set(waiting)}
        nearest = min(steps, key=lambda semitone: steps[semitone])
        waiting.remove(nearest)
        notes[seat] = notes[lower] + steps[nearest]
    return [notes[seat] for seat in range(len(reaches))]


def _given_out(quality: Quality, bass: int, players: int) -> list[int]:
    """Which notes of the chord the players above the bass have: what matters most first, then doubled."""
    others = [semitone for semitone in quality.semitones if semitone != bass]
    doubled = [quality.semitones[place % len(quality.semitones)] for place in range(players)]
    return (others + doubled)[: max(0, players - 1)]


def _up(at: int, semitone: int) -> int:
    """From a note up to the next ``semitone`` of the chord: 1 to 12."""
    return (semitone - at - 1) % 12 + 1


def fits(quality: Quality, root_midi: int, notes: Sequence[int]) -> bool:
    """Whether every note belongs to the chord."""
    return {(note - root_midi) % 12 for note in notes} <= set(quality.semitones)
