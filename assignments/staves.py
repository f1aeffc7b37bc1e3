"""Where written notes lie on a treble stave. 100 units are a stave space, the top line lies at 0, y runs downwards."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SPACE = 100
BOTTOM_LINE = 4 * SPACE
TOP, BOTTOM = -460, 680  # room for written A3 to G6 with their ledger lines, and the clef; other notes make more
OVER, UNDER = 110, 80  # what a note needs above and below its middle
CLEF_X, FIRST_NOTE_X, STEP_X, LAST_ROOM = 40, 600, 330, 300
HEAD_WIDTH = 169
LEDGER_OVERHANG = 45
SIGN_GAP = 24
SIGN_WIDTHS = {"flat": 90, "sharp": 100}
# By pitch class: the letter, as steps above C, and the sign in front of it, spelled as players say them (naming.py).
LETTERS = (0, 0, 1, 2, 2, 3, 3, 4, 4, 5, 6, 6)
SIGNS = ("", "sharp", "", "flat", "", "", "sharp", "", "sharp", "", "flat", "")
STEPS_OF_BOTTOM_LINE = 4 * 7 + 2  # E4


@dataclass(frozen=True, slots=True)
class PlacedNote:
    x: int
    y: int
    sign: str  # flat, sharp or none
    sign_x: int
    ledger_ys: tuple[int, ...]

    @property
    def ledger_from(self) -> int:
        return self.x - LEDGER_OVERHANG

    @property
    def ledger_to(self) -> int:
        return self.x + HEAD_WIDTH + LEDGER_OVERHANG


@dataclass(frozen=True, slots=True)
class Stave:
    width: int
    top: int
    height: int
    line_ys: tuple[int, ...]
    clef_x: int
    clef_y: int
    notes: tuple[PlacedNote, ...]


def stave_of(written: Sequence[int]) -> Stave:
    """Notes from left to right, written MIDI."""
    notes = tuple(_placed(midi, FIRST_NOTE_X + i * STEP_X) for i, midi in enumerate(written))
    top, bottom = room_of(written)
    return Stave(
        width=FIRST_NOTE_X + (max(1, len(notes)) - 1) * STEP_X + HEAD_WIDTH + LAST_ROOM,
        top=top,
        height=bottom - top,
        line_ys=tuple(range(0, BOTTOM_LINE + 1, SPACE)),
        clef_x=CLEF_X,
        clef_y=3 * SPACE,  # its curl encloses the G line
        notes=notes,
    )


def room_of(written: Sequence[int]) -> tuple[int, int]:
    """From where to where a stave with these notes reaches: always as far as a saxophone's does."""
    ys = [_placed(midi, 0).y for midi in written]
    return min([TOP, *(y - OVER for y in ys)]), max([BOTTOM, *(y + UNDER for y in ys)])


def _placed(written_midi: int, x: int) -> PlacedNote:
    octave, pitch_class = divmod(written_midi - 12, 12)
    sign = SIGNS[pitch_class]
    y = BOTTOM_LINE - (LETTERS[pitch_class] + 7 * octave - STEPS_OF_BOTTOM_LINE) * SPACE // 2
    above = range(-SPACE, y - 1, -SPACE)
    below = range(BOTTOM_LINE + SPACE, y + 1, SPACE)
    return PlacedNote(x=x, y=y, sign=sign, sign_x=x - SIGN_GAP - SIGN_WIDTHS.get(sign, 0), ledger_ys=(*above, *below))
