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
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from analysis.core.records import Caution, Dynamic, Evenness, Hole, Repeat, Tone
from analysis.core.room import DRY_DB, errors
from analysis.core.trend import residuals, robust_sd
from analysis.core.units import median
from analysis.core.words import words

if TYPE_CHECKING:
    from analysis.core.records import Doubles

Kind = Literal["level", "colour", "pitch", "witness"]
KINDS: tuple[Kind, ...] = get_args(Kind)
LEAST_NOTES = 4
STANDS_OUT_SDS = 3.5
ROOM_SDS: Mapping[Kind, float] = {"level": 4.0, "colour": 3.5, "pitch": 3.5}
# Of the partials counted alike, in a room: it moves the one or two that carry a level by themselves, all of them less.
WITNESS_WEIGHT = 0.6
SPOTS_AGREE = 3
# The first notes after the breaks (register key, neck vent, palm keys) differ by nature: half as much again is theirs.
BREAK_NOTES, BREAK_SHARE = (74, 81, 86), 1.5

# High notes have few partials in hearing range, and a room moves each by itself: 14 even runs in rooms of the generator
# wandered by 1.2 to 1.6 dB (SD) up to C5 and by 2.1 above, at 6 dB over the room.
HIGH_FROM, HIGH_SHARE = 73, 1.5


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
    return replace(found, repeats=_repeats(plain))


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
    most = (len(takes) + 1) // 2
    return replace(found, holes=tuple(h for h in found.holes if agreed[h.kind][h.written_midi] >= most))


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
    seen = left if over_room_db >= DRY_DB else {**left, "level": _witnessed(left["level"], left["witness"])}
    holes = [hole for kind, error in of_room.items() for hole in _holes(seen[kind], kind, error)]
    return Evenness(
        level_sd_db=_sd(left["level"]),
        colour_sd_pct=_sd(left["colour"]),
        pitch_sd_cents=_sd(left["pitch"]),
        holes=tuple(sorted(holes, key=lambda hole: -abs(hole.size) / MEASURES[hole.kind].least)),
        spots=spots,
        direct_over_room_db=direct_over_room_db,
        level_error_db=level_db,
        colour_error_pct=colour_pct,
    )


def cautions(evenness: Evenness) -> tuple[Caution, ...]:
    """``room_may_explain`` for the holes of level and colour that one room may have made."""
    over_room_db = evenness.direct_over_room_db
    dry = over_room_db is not None and over_room_db >= DRY_DB
    indices = tuple(dict.fromkeys(hole.index for hole in evenness.holes if hole.kind != "pitch"))
    if dry or evenness.spots >= SPOTS_AGREE or not indices:
        return ()
    return (Caution("room_may_explain", words("room_may_explain").advice, indices),)


def _counts(tone: Tone) -> bool:
    """Plain tones only: a swell has no level of its own, an overtone no place in the range."""
    return tone.readable and tone.partial is None and tone.shape.kind in ("sustained", "evenness")


def _value(tone: Tone, kind: Kind) -> float | None:
    """What a tone counts with: dB, hundredths of the natural logarithm of Hz (percent, near enough), or cents."""
    if kind in ("level", "witness") and "level_db" in tone.hidden:
        return None
    if kind == "level":
        return tone.level_db
    if kind == "witness":
        return tone.colour.partials_db
    if kind == "pitch":
        return None if "pitch_cents" in tone.hidden else tone.pitch_cents
    if tone.colour.centroid_hz is None or "colour" in tone.hidden:
        return None
    return 100.0 * float(np.log(tone.colour.centroid_hz))


def _notes(tones: Sequence[Tone], kind: Kind) -> Notes | None:
    passes: dict[int, list[tuple[float, int]]] = {}
    for tone in tones:
        if (value := _value(tone, kind)) is not None:
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
    if not lefts:
        return None, {}
    shared = sorted(set.intersection(*(set(left.midi.tolist()) for left in lefts)))
    if len(shared) < LEAST_NOTES:
        return None, {}
    table = np.array([[left.values[left.midi.tolist().index(note)] for note in shared] for left in lefts])
    middle = np.median(table, axis=0)
    leaning = (table * np.sign(middle) >= 0.5 * np.abs(middle)).sum(axis=0)
    index = tuple(lefts[0].index[lefts[0].midi.tolist().index(note)] for note in shared)
    return Notes(np.array(shared), middle, index), dict(zip(shared, leaning.tolist(), strict=True))


def _holes(left: Notes | None, kind: Kind, room_error: float) -> list[Hole]:
    """Notes that stand out over what a listener notices, over the others' unevenness and what the room may do."""
    if left is None or kind == "witness":
        return []
    measure = MEASURES[kind]
    sizes = 100.0 * np.expm1(left.values / 100.0) if kind == "colour" else left.values
    of_room = ROOM_SDS[kind] * room_error * np.where(left.midi >= HIGH_FROM, HIGH_SHARE, 1.0)
    of_others = STANDS_OUT_SDS * max(measure.natural, robust_sd(left.values))
    limits = np.maximum(max(measure.least, of_others), of_room)
    if kind == "colour":
        limits = np.where(np.isin(left.midi, BREAK_NOTES), BREAK_SHARE * limits, limits)
    return [
        Hole(left.index[place], int(left.midi[place]), kind, float(sizes[place]), measure.unit)
        for place in np.flatnonzero(np.abs(left.values) > limits)
    ]


def _witnessed(level: Notes | None, witness: Notes | None) -> Notes | None:
    """The notes' levels, drawn towards what all their partials say."""
    if level is None or witness is None:
        return level
    said = dict(zip(witness.midi.tolist(), witness.values.tolist(), strict=True))
    seen = np.array([said.get(note, own) for note, own in zip(level.midi.tolist(), level.values.tolist(), strict=True)])
    return Notes(level.midi, (1.0 - WITNESS_WEIGHT) * level.values + WITNESS_WEIGHT * seen, level.index)


def _sd(left: Notes | None) -> float | None:
    return None if left is None else float(np.std(left.values))


def _repeats(tones: Sequence[Tone]) -> tuple[Repeat, ...]:
    """Notes that were passed more than once, the least alike in level first."""
    passes: dict[int, list[Tone]] = {}
    for tone in tones:
        passes.setdefault(tone.written_midi, []).append(tone)
    found = [
        Repeat(
            note,
            tuple(tone.index for tone in played),
            _reach([_value(tone, "level") for tone in played]),
            _reach([_value(tone, "colour") for tone in played]),
            _reach([_value(tone, "pitch") for tone in played]),
        )
        for note, played in sorted(passes.items())
        if len(played) > 1
    ]
    return tuple(sorted(found, key=lambda repeat: -(repeat.level_range_db or 0.0)))


def _reach(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return max(known) - min(known) if len(known) > 1 else None
