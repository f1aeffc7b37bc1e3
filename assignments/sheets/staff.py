"""One day of tones on a stave: notes, what each is played as, and a box under each."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from assignments.exercises import SHAPED, Slot
from assignments.sheets.outlines import SHAPE_SIZE, table
from assignments.sheets.records import Outline, Rule, Words
from assignments.staves import HEAD_WIDTH, SPACE, PlacedNote, room_of, stave_of

LINE_MM, LEDGER_MM, BOX_MM, FOOT_MM = 0.2, 0.3, 0.45, 0.7
MARK_PT = 9.5  # level words, at the usual height
USUAL_SPACE_MM = 1.9
SHAPE_MM = (5.2, 2.4)
BOX_ROOM_MM = (4.4, 3.2)
LEVELS_UNDER_MM, BOXES_UNDER_MM, ROW_UNDER_MM = 3.6, 4.9, 8.6  # below the lowest ledger line's room
FIRST_SPACES, LAST_SPACES = 6.4, 1.8  # from the stave's ends to the middle of the first and last note


class Row:
    """Where a day's notes lie: ``left_mm`` and ``right_mm`` are the ends of the stave, ``top_mm`` that of its room.

    ``notes``: every written note on the sheet, so that all its staves are of one size.
    """

    def __init__(
        self, left_mm: float, right_mm: float, top_mm: float, height_mm: float, *, places: int, notes: Sequence[int]
    ) -> None:
        self.left_mm, self.right_mm = left_mm, right_mm
        top, bottom = room_of(notes)
        spaces = (bottom - top) / SPACE
        self.space_mm = min(USUAL_SPACE_MM, (height_mm - ROW_UNDER_MM) / spaces)
        self.unit_mm = self.space_mm / SPACE
        self.line_mm = top_mm - top * self.unit_mm  # the stave's top line
        self.under_mm = self.line_mm + bottom * self.unit_mm
        self.first_mm = left_mm + FIRST_SPACES * self.space_mm
        self.step_mm = (right_mm - self.first_mm - LAST_SPACES * self.space_mm) / max(1, places - 1)

    def middle_mm(self, place: int) -> float:
        return self.first_mm + place * self.step_mm


def stave(row: Row, tones: Sequence[Slot]) -> tuple[list[Rule], list[Outline]]:
    """Five lines, the clef and the notes, in written pitch."""
    placed = stave_of([tone.written_midi for tone in tones])
    lines = [row.line_mm + y * row.unit_mm for y in placed.line_ys]
    rules = [Rule((row.left_mm, y), (row.right_mm, y), LINE_MM) for y in lines]
    clef_mm = row.line_mm + placed.clef_y * row.unit_mm
    outlines = [Outline(table()["stave-clef"], row.left_mm + 0.4 * row.space_mm, clef_mm, row.unit_mm, row.unit_mm)]
    for place, note in enumerate(placed.notes):
        rules += _ledgers(row, place, note)
        outlines += _note(row, place, note)
    return rules, outlines


def _ledgers(row: Row, place: int, note: PlacedNote) -> Iterable[Rule]:
    half = (note.ledger_to - note.ledger_from) / 2.0 * row.unit_mm
    for y in note.ledger_ys:
        at = row.line_mm + y * row.unit_mm
        yield Rule((row.middle_mm(place) - half, at), (row.middle_mm(place) + half, at), LEDGER_MM)


def _note(row: Row, place: int, note: PlacedNote) -> Iterable[Outline]:
    x = row.middle_mm(place) - HEAD_WIDTH / 2.0 * row.unit_mm
    y = row.line_mm + note.y * row.unit_mm
    yield Outline(table()["stave-head"], x, y, row.unit_mm, row.unit_mm)
    if note.sign:
        sign_x = x - (note.x - note.sign_x) * row.unit_mm
        yield Outline(table()[f"stave-{note.sign}"], sign_x, y, row.unit_mm, row.unit_mm)


def marks(row: Row, tones: Sequence[Slot]) -> tuple[list[Words], list[Outline]]:
    """Under each note its level, or its shape drawn."""
    y, words, outlines = row.under_mm + LEVELS_UNDER_MM, [], []
    for place, tone in enumerate(tones):
        middle = row.middle_mm(place)
        if tone.tone in SHAPED:
            (width, height), (across, up) = SHAPE_MM, SHAPE_SIZE
            path = table()[f"shape-{tone.tone}"]
            outlines.append(Outline(path, middle - width / 2.0, y - height, width / across, height / up))
        else:
            words.append(Words(middle, y, tone.tone, MARK_PT, "level", "middle"))
    return words, outlines


def boxes(row: Row, how_many: int) -> list[Rule]:
    """Open above, standing on the ground that parts the days."""
    width, height = BOX_ROOM_MM
    width = min(width, row.step_mm * 0.56)  # with air between them, so that each is a box and all together no comb
    top = row.under_mm + BOXES_UNDER_MM
    ground = top + height
    rules = [Rule((row.left_mm, ground), (row.right_mm, ground), FOOT_MM)]
    for place in range(how_many):
        rules += box(row.middle_mm(place) - width / 2.0, ground, width, height)
    return rules


def box(left_mm: float, ground_mm: float, width_mm: float, height_mm: float) -> list[Rule]:
    right, top = left_mm + width_mm, ground_mm - height_mm
    return [
        Rule((left_mm, top), (left_mm, ground_mm), BOX_MM),
        Rule((right, top), (right, ground_mm), BOX_MM),
        Rule((left_mm, ground_mm), (right, ground_mm), BOX_MM),
    ]
