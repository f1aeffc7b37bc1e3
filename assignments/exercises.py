"""The kinds of exercise, and which tones each asks for on one horn."""

from __future__ import annotations

import tomllib
from collections.abc import Collection
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any, cast

from analysis.core.records import Asked, Dynamic, Shape

LEVELS = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
SHAPED = ("stepped", "swell", "reverse_swell")
TONE_WORDS = (*LEVELS, *SHAPED)
SEMITONES_OF_PARTIAL = {1: 0, 2: 12, 3: 19, 4: 24, 5: 28, 6: 31}  # over the fingered note, nearest semitone
STAGES = (1, 2, 3)  # of extension work, each with its own gate
MINUTES = (5, 10, 15)  # what a teacher may ask for a day
USUAL_BEATS = 8  # of a tone; four more to breathe
TEMPI = (50, 54, 60, 66, 72)  # beats a minute that a teacher may choose, the metronome's own marks; usual: 60
USUAL_TEMPO = 60  # long tones are counted in seconds (common practice)
SPOTS = 3  # places of the phone that together tell a room from a horn
MOVED = "moved"  # what a recording's field "spot" says when the phone lies elsewhere than for the run before
# 8 beats of tone and 4 to breathe, one beat a second, less the minutes of setting up and resting; at 50 beats a minute
# twenty tones fill their five minutes and the check of the phone comes on top
SLOTS_A_MINUTE = 4


@dataclass(frozen=True, slots=True)
class Kind:
    """One row of data/exercises.toml."""

    key: str
    title: str
    summary: str
    stage: int
    counts: bool
    in_routines: bool = True  # a block of routines; the others are set by themselves
    tones: tuple[str, ...] = ()
    fingered_written_midi: tuple[int, ...] = ()
    partials: tuple[int, ...] = ()
    beside_fingered: bool = False  # after each partial the same note with its normal fingering
    semitones_above_keys: tuple[int, ...] = ()
    written_midi: tuple[int, ...] = ()  # each with every one of ``tones``
    beats: int = USUAL_BEATS  # of one tone


@dataclass(frozen=True, slots=True)
class Slot:
    """One tone that is asked for: what travels with a recording."""

    slot: int
    written_midi: int
    tone: str
    partial: int | None = None
    lane: str = ""

    def as_json(self) -> dict[str, Any]:
        return asdict(self)

    def asked(self) -> Asked:
        if self.tone in SHAPED:
            return Asked(self.written_midi, self.partial, shape=cast(Shape, self.tone))
        return Asked(self.written_midi, self.partial, dynamic=cast(Dynamic, self.tone))


def slots_of_budget(minutes: int) -> int:
    """How many tones fit into so many minutes: 20, 40 or 60."""
    return minutes * SLOTS_A_MINUTE


@cache
def kinds() -> dict[str, Kind]:
    rows = tomllib.loads((Path(__file__).parent / "data" / "exercises.toml").read_text("utf-8"))
    return {key: Kind(key, **frozen(row)) for key, row in rows.items()}


def routine_kinds() -> dict[str, Kind]:
    """The kinds that a routine may hold."""
    return {key: kind for key, kind in kinds().items() if kind.in_routines}


def frozen(row: dict[str, Any]) -> dict[str, Any]:
    """A row of a table, its lists made tuples."""
    return {name: tuple(value) if isinstance(value, list) else value for name, value in row.items()}


def slots_of(kind: Kind, written_range: tuple[int, int], left_out: Collection[int] = ()) -> tuple[Slot, ...]:
    """The tones of an exercise that is the same every day (not of the daily tones: those are planned).

    ``left_out``: written notes that are not fingered now (a pad in repair, a hand too small): no exercise asks for
    them, and a partial that nobody fingers has nothing to stand beside.
    """
    lowest, highest = written_range
    playable = [midi for midi in range(lowest, highest + 1) if midi not in left_out]
    if kind.key == "evenness_run":
        return tuple(Slot(place, midi, "mf") for place, midi in enumerate(playable + playable[-2::-1]))
    if kind.written_midi:
        shaped = ((midi, tone) for midi in kind.written_midi if midi in playable for tone in kind.tones)
        return tuple(Slot(place, midi, tone) for place, (midi, tone) in enumerate(shaped))
    asked: list[tuple[int, int | None]] = []
    for fingered in (midi for midi in playable if midi in kind.fingered_written_midi):
        for partial in kind.partials:
            normally = fingered + SEMITONES_OF_PARTIAL[partial]
            if not kind.beside_fingered:
                asked.append((fingered, partial))
            elif normally in playable:
                asked += [(fingered, partial), (normally, None)]
    asked += [(highest + step, None) for step in kind.semitones_above_keys]
    return tuple(Slot(place, midi, "mf", partial) for place, (midi, partial) in enumerate(asked))
