"""Many notes side by side, low to high: the wall of a run, one note among its neighbours, a profile over the range.

Blocks are given in per cent of the picture (y downwards, the ground at 100); a profile's strings lie in a box of 1000
by 1000. One ``room_db`` (what a room alone can change) is as high everywhere, so that days can be compared.
"""

from __future__ import annotations

import statistics
from collections.abc import Collection, Sequence
from dataclasses import dataclass

from analysis.drawing import paths
from analysis.drawing.axis import BOX

Note = tuple[int, float | None]  # written MIDI, level in dB or another value; None: not heard

BREAKS_BEFORE = (74, 81, 86)  # written D5, A5, D6: where the fingering changes over (common practice)
WALL_STRING_Y, WALL_ROOM_HEIGHT = 24.0, 12.5
NEAR_STRING_Y, NEAR_ROOM_HEIGHT = 18.0, 17.0
LEAST_HEIGHT = 6.0  # a block never vanishes: it was played
MOST_HOLES = 3
LABEL_GAP = 11.0  # per cent that a note's name needs
BIG_LABEL_GAP = 20.0
CLEAR_OF_TIP = 5.0
PROFILE_ALLOWANCE_HEIGHT, PROFILE_ALLOWANCES_SHOWN = 130.0, 3.5


@dataclass(frozen=True, slots=True)
class Block:
    written_midi: int
    x: float
    width: float
    top: float
    hole: bool = False

    @property
    def height(self) -> float:
        return 100 - self.top

    @property
    def middle(self) -> float:
        return self.x + self.width / 2


@dataclass(frozen=True, slots=True)
class Label:
    """A note's name at ``at``; its hole begins at ``points_at`` and ``tip`` (per cent, across and down).

    ``crowded``: with big lettering there is no room for it.
    """

    written_midi: int
    at: float
    points_at: float
    anchor: str = "middle"
    tip: float = 0.0
    crowded: bool = False


@dataclass(frozen=True, slots=True)
class Wall:
    blocks: tuple[Block, ...]
    string_y: float
    back_string_y: float | None  # the way down, where it lies elsewhere by more than the room can do
    shade_top: float
    shade_height: float
    holes: tuple[Label, ...]
    feet: tuple[Label, ...]

    @property
    def peg_bottom(self) -> float:
        return self.shade_top + self.shade_height


@dataclass(frozen=True, slots=True)
class Neighbours:
    blocks: tuple[Block, ...]
    string_y: float
    shade_top: float
    shade_height: float
    hole: Block | None

    @property
    def string_height(self) -> float:
        """From the ground up to the string."""
        return 100 - self.string_y


@dataclass(frozen=True, slots=True)
class Profile:
    now: str
    before: str
    errors: str  # a bar a note, as far as its value may be off to either side
    string_y: float
    shade_top: float
    shade_height: float
    feet: tuple[Label, ...]


def wall(notes: Sequence[Note], *, room_db: float, holes: Collection[int] = (), back: Sequence[Note] = ()) -> Wall:
    """A run: blocks should reach the string, which lies at the run's middle level. At most three holes are named."""
    middle_db = _middle(notes)
    blocks = _blocks(notes, middle_db, room_db, holes, (WALL_STRING_Y, WALL_ROOM_HEIGHT), part=0.86)
    named = [block for block in blocks if block.hole][:MOST_HOLES]
    back_y = None
    if back and abs(_middle(back) - middle_db) > room_db:
        back_y = _top(_middle(back) - middle_db, room_db, WALL_STRING_Y, WALL_ROOM_HEIGHT)
    return Wall(
        blocks=blocks,
        string_y=WALL_STRING_Y,
        back_string_y=back_y,
        shade_top=WALL_STRING_Y - WALL_ROOM_HEIGHT,
        shade_height=2 * WALL_ROOM_HEIGHT,
        holes=_spread(named),
        feet=_feet([midi for midi, _ in notes]),
    )


def neighbours(notes: Sequence[Note], *, room_db: float, hole: int | None = None) -> Neighbours:
    """One note between those beside it, which say where the string lies."""
    beside = [note for note in notes if note[0] != hole] or notes
    blocks = _blocks(
        notes, _middle(beside), room_db, () if hole is None else (hole,), (NEAR_STRING_Y, NEAR_ROOM_HEIGHT), part=0.92
    )
    return Neighbours(
        blocks=blocks,
        string_y=NEAR_STRING_Y,
        shade_top=NEAR_STRING_Y - NEAR_ROOM_HEIGHT,
        shade_height=2 * NEAR_ROOM_HEIGHT,
        hole=next((block for block in blocks if block.hole), None),
    )


def profile(
    now: Sequence[Note], *, allowance: float, before: Sequence[Note] = (), error: float | None = None
) -> Profile:
    """Values against nought (cents, dB) over the range, today's string and an earlier one.

    ``error``: how far each value of today may be off, either way; None draws no bars.
    """
    order = sorted({midi for midi, _ in (*now, *before)})
    return Profile(
        now=_course(now, order, allowance),
        before=_course(before, order, allowance),
        errors="" if error is None else _bars(now, order, allowance, error),
        string_y=BOX / 2,
        shade_top=BOX / 2 - PROFILE_ALLOWANCE_HEIGHT,
        shade_height=2 * PROFILE_ALLOWANCE_HEIGHT,
        feet=_feet(order),
    )


def _middle(notes: Sequence[Note]) -> float:
    heard = [value for _, value in notes if value is not None]
    return statistics.median(heard) if heard else 0.0


def _top(above_db: float, room_db: float, string_y: float, room_height: float) -> float:
    return round(min(100 - LEAST_HEIGHT, max(0.0, string_y - above_db / room_db * room_height)), 2)


def _blocks(
    notes: Sequence[Note],
    middle_db: float,
    room_db: float,
    holes: Collection[int],
    frame: tuple[float, float],
    part: float,
) -> tuple[Block, ...]:
    """A block for each note that was heard, as wide as ``part`` of its place; the outer two reach the edges."""
    pitch = 100 / (len(notes) - 1 + part) if notes else 100.0
    return tuple(
        Block(
            midi,
            x=round(i * pitch, 2),
            width=round(pitch * part, 2),
            top=_top(level_db - middle_db, room_db, *frame),
            hole=midi in holes,
        )
        for i, (midi, level_db) in enumerate(notes)
        if level_db is not None
    )


def _course(notes: Sequence[Note], order: Sequence[int], allowance: float) -> str:
    places = _places(order)
    points = [(places[midi], None if value is None else _height(value, allowance)) for midi, value in notes]
    return paths.lines(paths.runs_of(points))


def _bars(notes: Sequence[Note], order: Sequence[int], allowance: float, error: float) -> str:
    places = _places(order)
    ends = [
        (places[midi], _height(value + error, allowance), _height(value - error, allowance))
        for midi, value in notes
        if value is not None
    ]
    return "".join(f"M{x:g} {top:g}V{bottom:g}" for x, top, bottom in ends)


def _places(order: Sequence[int]) -> dict[int, float]:
    return {midi: round((i + 0.5) / len(order) * BOX, 1) for i, midi in enumerate(order)}


def _height(value: float, allowance: float) -> float:
    away = min(PROFILE_ALLOWANCES_SHOWN, max(-PROFILE_ALLOWANCES_SHOWN, value / allowance))
    return round(BOX / 2 - away * PROFILE_ALLOWANCE_HEIGHT, 1)


def _feet(midis: Sequence[int]) -> tuple[Label, ...]:
    """Names under the picture: its ends, and the breaks that are not too near to them."""
    if not midis:
        return ()
    feet = [Label(midis[0], 0.0, 0.0, "start")]
    for i, midi in enumerate(midis):
        at = round(i / len(midis) * 100, 2)
        if midi in BREAKS_BEFORE and 0.9 * LABEL_GAP < at < 100 - 1.3 * LABEL_GAP:
            crowded = at - feet[-1].at < BIG_LABEL_GAP or 100 - at < BIG_LABEL_GAP
            feet.append(Label(midi, at, at, crowded=crowded))
    feet.append(Label(midis[-1], 100.0, 100.0, "end"))
    return tuple(feet)


def _spread(named: Sequence[Block]) -> tuple[Label, ...]:
    """Names of neighbours would lie on each other: push them apart, inside the picture."""
    half = LABEL_GAP / 2
    ats: list[float] = []
    for i, block in enumerate(named):
        room_behind = (len(named) - 1 - i) * LABEL_GAP
        least = ats[-1] + LABEL_GAP if ats else half
        ats.append(round(min(max(block.middle, least), 100 - half - room_behind), 2))
    return tuple(
        Label(block.written_midi, at, round(block.middle, 2), tip=max(0.0, block.top - CLEAR_OF_TIP))
        for at, block in zip(ats, named, strict=True)
    )
