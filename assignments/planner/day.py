"""One day while its slots are being filled, and what would be wrong with a tone in a slot."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import NamedTuple

from assignments.planner.history import Table
from assignments.planner.records import LOUD, SOFT, Why

A_NOTE_A_DAY = 3
RUNNING = 2  # so many of the loudest, or of the softest, in a row and no more
HIGHEST = 3  # two of these many highest notes do not follow each other, where there is a choice
Faults = tuple[bool, bool, bool, bool]  # a tone twice, a note too often, a word too often, too long a run


class Limits(NamedTuple):
    """What is counted against how often a note may come in a day and a tone word in the lane."""

    pins_count: bool
    coverage_counts: bool


class Day:
    """The slots of one day. Coverage stands from the start and is not moved; ``put`` fills the focus slots."""

    def __init__(self, table: Table, slots: int, covered: Mapping[int, int], limits: Limits) -> None:
        self.table = table
        self.cells: list[int | None] = [covered.get(slot) for slot in range(slots)]
        self.why: dict[int, Why] = {}
        self.word_limit = max(5, slots // 5)
        self._group = [1 if tone in SOFT else 2 if tone in LOUD else 0 for tone in table.tones]
        self._times = Counter(covered.values())
        self._limits = limits
        self._notes = Counter(table.note_of(cell) for cell in covered.values() if limits.coverage_counts)
        self._words: Counter[int] = Counter()

    def put(self, slot: int, cell: int, why: Why) -> None:
        self.cells[slot] = cell
        self.why[slot] = why
        self._times[cell] += 1
        if why != "teacher" or self._limits.pins_count:
            self._notes[self.table.note_of(cell)] += 1
            self._words[self.table.tone_of(cell)] += 1

    def free(self) -> list[int]:
        return [slot for slot, cell in enumerate(self.cells) if cell is None]

    def is_used(self, cell: int) -> bool:
        return self._times[cell] > 0

    def fits(self, cell: int, slot: int) -> bool:
        """Never the same note twice running; with one note or two that can't be helped."""
        return len(self.table.notes) < 3 or self.table.note_of(cell) not in self._beside(slot)

    def faults(self, cell: int, slot: int) -> Faults:
        """What would be wrong with a cell in a slot, the worst first; none of it: nothing."""
        notes_over = self._notes[self.table.note_of(cell)] >= A_NOTE_A_DAY
        words_over = self._words[self.table.tone_of(cell)] >= self.word_limit
        return self._times[cell] > 0, notes_over, words_over, self.runs_on(cell, slot)

    def clashes(self, cell: int, slot: int) -> bool:
        """Two of the highest notes in a row or, where there are but two notes, the same again."""
        note, top = self.table.note_of(cell), len(self.table.notes) - HIGHEST
        beside = self._beside(slot)
        return note in beside or (note >= top and any(other >= top for other in beside))

    def runs_on(self, cell: int, slot: int) -> bool:
        """Whether the loudest, or the softest, tones would be too many in a row."""
        group = self._group[self.table.tone_of(cell)]
        if not group:
            return False
        before, after = range(slot - 1, -1, -1), range(slot + 1, len(self.cells))
        return 1 + self._same(group, before) + self._same(group, after) > RUNNING

    def notes_left(self) -> list[int]:
        """For each note how often it may still come."""
        return [max(0, A_NOTE_A_DAY - self._notes[note]) for note in range(len(self.table.notes))]

    def words_left(self) -> list[int]:
        """For each tone word how often it may still come in the lane."""
        return [max(0, self.word_limit - self._words[tone]) for tone in range(len(self.table.tones))]

    def _beside(self, slot: int) -> list[int]:
        cells = self.cells[max(0, slot - 1) : slot] + self.cells[slot + 1 : slot + 2]
        return [self.table.note_of(cell) for cell in cells if cell is not None]

    def _same(self, group: int, slots: Iterable[int]) -> int:
        """How many of a group lie next to each other from the first of ``slots`` on."""
        count = 0
        for slot in slots:
            cell = self.cells[slot]
            if cell is None or self._group[self.table.tone_of(cell)] != group:
                break
            count += 1
        return count
