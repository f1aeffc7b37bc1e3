"""Evenness over the range: each note against a smooth trend through its neighbours; the odd ones are holes.

Per kind: level in dB, colour (centroid) in percent, pitch in cents. A note played more than once counts by its
median, and its passes are compared. A hole must stand out twice: over what a listener would notice, and over the
unevenness of the other notes.

One phone in one room is the weak point: a room alone moves notes by several dB. In a room, therefore, a hole of level
is read from two witnesses, the level and the partials counted alike (``Colour.partials_db``), and holes carry a caution
unless takes from three places of the phone agree (``of_spots``).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, get_args

import numpy as np

from analysis.core.records import Caution, Dynamic, Evenness, Hole, Tone
from analysis.core.repeats import Kind, repeats, value_of
from analysis.core.room import DRY_DB, errors
from analysis.core.trend import residuals, robust_sd
from analysis.core.units import median
from analysis.core.words import words

if TYPE_CHECKING:
    from analysis.core.records import Doubles

KINDS: tuple[Kind, ...] = get_args(Kind)
LEAST_NOTES = 4
STANDS_OUT_SDS = 3.5
ROOM_SDS: Mapping[Kind, float] = {"level": 4.0, "colour": 3.5, "pitch": 3.5}
# Of the partials counted alike, in a room: it moves the one or two that carry a level by themselves, all of them less.
# They also fall where a note is dull and no softer: so they make at most this many times of what its own level says. Of
# take g, which has three notes of another colour and as loud, in twelve simulated rooms (10 to -3 dB over the room) 15
# notes were holes of level without that, and 2 are.
WITNESS_WEIGHT, MOST_WITNESSED = 0.6, 2.0
SPOTS_AGREE = 3
# The first notes after the breaks (register key, neck vent, palm keys) differ by nature: half as much again is theirs.
BREAK_NOTES, BREAK_SHARE = (74, 81, 86), 1.5
# High notes have few partials in hearing range, and a room moves each by itself: 14 even runs in rooms of the generator
# wandered by 1.2 to 1.6 dB (SD) up to C5 and by 2.1 above, at 6 dB over the room.
HIGH_FROM, HIGH_SHARE = 73, 1.5
# What one room may explain is worth a word where a note is held against those beside it: in a run of an octave or more,
# most of it by steps, and beyond what the room does to most notes. Of 40 even runs in rooms (10 to -3 dB over the room)
# 13 hold such a note, as far as just noticed 36 would; of 20 with a note 8 dB too loud it is named or a hole in 19.
LEAST_OF_RUN, STEP_SEMITONES, WORTH_A_WORD_SDS = 12, 2.0, 2.5


@dataclass(frozen=True, slots=True)
class Measure:
    """How one kind is looked at, in ``unit``.

    ``least``: what a listener notices; ``natural``: how far the notes of a good horn lie apart, one standard deviation.
    """

    least: float
    natural: float
    degree: int
    unit: str


# Level: three times what is just heard; colour: four times; pitch: a musician hears 10 cents.
MEASURES: Mapping[Kind, Measure] = {
    "level": Measure(3.0, 0.5, 2, "dB"),
    "colour": Measure(22.0, 9.0, 2, "%"),
    "pitch": Measure(12.0, 0.0, 0, "cents"),
    "witness": Measure(3.0, 0.5, 2, "dB"),
}


@dataclass(frozen=True, slots=True)
class Notes:
    """One value a note: ``midi`` ascending, ``values`` their medians, ``index`` of the tone that lies furthest out."""

    midi: Doubles
    values: Doubles
    index: tuple[int, ...]


def read(tones: Sequence[Tone], *, direct_over_room_db: float | None = None, dynamic: Dynamic = "mf") -> Evenness:
    """Evenness of the tones of one take. Fewer than four notes have no trend: all None.

    ``direct_over_room_db``: see ``room.py``; None (unknown) is taken for a room. ``dynamic``: the mark that was asked
    for.
    """
    plain = [tone for tone in tones if _counts(tone)]
    left = {kind: _left(_notes(plain, kind), kind) for kind in KINDS}
    found = _evenness(left, direct_over_room_db, dynamic, spots=1)
    return replace(found, repeats=repeats(plain))


def of_spots(
    runs: Sequence[Sequence[Tone]], *, direct_over_room_db: float | None = None, dynamic: Dynamic = "mf"
) -> Evenness:
    """Evenness of takes of the same notes from different places of the phone: of each note the median of its takes.

    ``index`` of a hole is that of the first take. A hole stands where most takes lean the same way.
    """
    takes = [[tone for tone in run if _counts(tone)] for run in runs]
    middles: dict[Kind, Notes | None] = {}
    agreed: dict[Kind, Mapping[float, int]] = {}
    for kind in KINDS:
        lefts = [left for take in takes if (left := _left(_notes(take, kind), kind)) is not None]
        middles[kind], agreed[kind] = _together(lefts)
    found = _evenness(middles, direct_over_room_db, dynamic, spots=len(takes))
    return replace(found, holes=tuple(h for h in found.holes if 2 * agreed[h.kind][h.written_midi] >= len(takes)))


def course(runs: Sequence[Sequence[Tone]], kind: Kind) -> tuple[tuple[int, float], ...]:
    """Each written note of ``runs`` against its smooth trend, the median of the runs; empty with fewer than four."""
    takes = ([tone for tone in run if _counts(tone)] for run in runs)
    middle, _ = _together([left for take in takes if (left := _left(_notes(take, kind), kind)) is not None])
    return () if middle is None else tuple(zip(middle.midi.astype(int).tolist(), middle.values.tolist(), strict=True))


def _evenness(
    left: Mapping[Kind, Notes | None], direct_over_room_db: float | None, dynamic: Dynamic, *, spots: int
) -> Evenness:
    over_room_db = 0.0 if direct_over_room_db is None else direct_over_room_db
    level_db, colour_pct = errors(over_room_db, dynamic, spots)
    of_room: dict[Kind, float] = {"level": level_db, "colour": colour_pct, "pitch": 0.0}
    dry = over_room_db >= DRY_DB
    seen = left if dry else {**left, "level": _witnessed(left["level"], left["witness"])}
    found = {kind: _standing_out(seen[kind], kind, error) for kind, error in of_room.items()}
    holes = [hole for sure, _ in found.values() for hole in sure]
    return Evenness(
        level_sd_db=_sd(left["level"]),
        colour_sd_pct=_sd(left["colour"]),
        pitch_sd_cents=_sd(left["pitch"]),
        holes=tuple(sorted(holes, key=lambda hole: -abs(hole.size) / MEASURES[hole.kind].least)),
        unsure=() if dry or spots >= SPOTS_AGREE or not _is_run(seen["level"]) else tuple(found["level"][1]),
        spots=spots,
        direct_over_room_db=direct_over_room_db,
        level_error_db=level_db,
        colour_error_pct=colour_pct,
    )


def cautions(evenness: Evenness) -> tuple[Caution, ...]:
    """``room_may_explain`` for the holes of level and colour that one room may have made.

    Not for ``unsure``, which says so by its name: nothing is held against those notes.
    """
    dry = (evenness.direct_over_room_db or 0.0) >= DRY_DB
    indices = tuple(dict.fromkeys(hole.index for hole in evenness.holes if hole.kind != "pitch"))
    if dry or evenness.spots >= SPOTS_AGREE or not indices:
        return ()
    return (Caution("room_may_explain", words("room_may_explain").advice, indices),)


def _is_run(notes: Notes | None) -> bool:
    """Whether most notes have those they are held against beside them."""
    return notes is not None and len(notes.midi) >= LEAST_OF_RUN and median(np.diff(notes.midi)) <= STEP_SEMITONES


def _counts(tone: Tone) -> bool:
    """Plain tones only: a swell has no level of its own, an overtone no place in the range."""
    return tone.readable and tone.partial is None and tone.shape.kind in ("sustained", "evenness")


def _notes(tones: Sequence[Tone], kind: Kind) -> Notes | None:
    passes: dict[int, list[tuple[float, int]]] = {}
    for tone in tones:
        if (value := value_of(tone, kind)) is not None:
            passes.setdefault(tone.written_midi, []).append((value, tone.index))
    if len(passes) < LEAST_NOTES:
        return None
    midi = sorted(passes)
    middles = [median([value for value, _ in passes[note]]) for note in midi]
    overall = median(middles)
    index = tuple(max(passes[note], key=lambda one: abs(one[0] - overall))[1] for note in midi)
    return Notes(np.array(midi, dtype=np.float64), np.array(middles), index)


def _left(notes: Notes | None, kind: Kind) -> Notes | None:
    """The same notes with the trend taken off."""
    if notes is None:
        return None
    return Notes(notes.midi, residuals(notes.midi, notes.values, MEASURES[kind].degree), notes.index)


def _together(lefts: Sequence[Notes]) -> tuple[Notes | None, Mapping[float, int]]:
    """Medians over takes of the notes that all of them hold, and how many takes lean the median's way by half of it."""
    shared = sorted(set.intersection(*(set(left.midi.tolist()) for left in lefts))) if lefts else []
    if len(shared) < LEAST_NOTES:
        return None, {}
    table = np.array([[left.values[left.midi.tolist().index(note)] for note in shared] for left in lefts])
    middle = np.median(table, axis=0)
    leaning = (table * np.sign(middle) >= 0.5 * np.abs(middle)).sum(axis=0)
    index = tuple(lefts[0].index[lefts[0].midi.tolist().index(note)] for note in shared)
    return Notes(np.array(shared), middle, index), dict(zip(shared, leaning.tolist(), strict=True))


def _standing_out(left: Notes | None, kind: Kind, room_error: float) -> tuple[list[Hole], list[Hole]]:
    """Notes further off than a listener notices: those that neither the others nor the room explain; and, further off
    than most rooms move a note, those that they may."""
    if left is None or kind == "witness":
        return [], []
    measure = MEASURES[kind]
    sizes = 100.0 * np.expm1(left.values / 100.0) if kind == "colour" else left.values
    room_sd = room_error * np.where(left.midi >= HIGH_FROM, HIGH_SHARE, 1.0)
    of_others = STANDS_OUT_SDS * max(measure.natural, robust_sd(left.values))
    limits = np.maximum(max(measure.least, of_others), ROOM_SDS[kind] * room_sd)
    if kind == "colour":
        limits = np.where(np.isin(left.midi, BREAK_NOTES), BREAK_SHARE * limits, limits)
    off = np.abs(left.values)
    noticed = np.maximum(measure.least, WORTH_A_WORD_SDS * room_sd)
    sure, unsure = list[Hole](), list[Hole]()
    for at in np.argsort(-off):
        one = Hole(left.index[at], int(left.midi[at]), kind, float(sizes[at]), measure.unit)
        if off[at] > limits[at]:
            sure.append(one)
        elif off[at] > noticed[at]:
            unsure.append(one)
    return sure, unsure


def _witnessed(level: Notes | None, witness: Notes | None) -> Notes | None:
    """The notes' levels, drawn towards what all their partials say, but never past naught nor far beyond themselves."""
    if level is None or witness is None:
        return level
    said = dict(zip(witness.midi.tolist(), witness.values.tolist(), strict=True))
    seen = np.array([said.get(note, own) for note, own in zip(level.midi.tolist(), level.values.tolist(), strict=True)])
    drawn = (1.0 - WITNESS_WEIGHT) * level.values + WITNESS_WEIGHT * seen
    reach = MOST_WITNESSED * level.values
    return Notes(level.midi, np.clip(drawn, np.minimum(reach, 0.0), np.maximum(reach, 0.0)), level.index)


def _sd(left: Notes | None) -> float | None:
    return None if left is None else float(np.std(left.values))
