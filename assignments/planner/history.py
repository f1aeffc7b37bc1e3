"""The table of notes by tones, and what its history says: what was played last, how often, and how it went.

A *cell* is one tone of one note, numbered ``note * K + tone``: notes from the lowest, tones in their usual order.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from datetime import date
from math import gcd

from assignments.planner.records import TONES, NothingToPlanError, Play

FORGET = 0.9  # a hit or miss counts a tenth less with each later try


class Table:
    """The notes of a range by the tones set. Raises NothingToPlanError when one of the two is empty."""

    def __init__(self, lowest_written: int, highest_written: int, tones: Collection[str], excluded: Collection[int]):
        left_out = set(excluded)
        self.notes = [note for note in range(lowest_written, highest_written + 1) if note not in left_out]
        self.tones = [tone for tone in TONES if tone in set(tones)]
        if not self.notes:
            raise NothingToPlanError("no note of the range is left to plan; take a note off the excluded ones")
        if not self.tones:
            raise NothingToPlanError("no tone is left to plan; name at least one")
        self.cells = len(self.notes) * len(self.tones)
        self._places = {
            (note, tone): place
            for place, (note, tone) in enumerate((note, tone) for note in self.notes for tone in self.tones)
        }

    def cell(self, written_midi: int, tone: str) -> int | None:
        """The number of a cell; None outside the table."""
        return self._places.get((written_midi, tone))

    def note_of(self, cell: int) -> int:
        return cell // len(self.tones)

    def tone_of(self, cell: int) -> int:
        return cell % len(self.tones)

    def strides(self) -> list[int]:
        """For each note its place in the first round, which walks the range in steps of about a third of it.

        The step is the number coprime with the number of notes nearest to a third of it, the smaller on a tie, so the
        walk meets every note and neighbours lie far apart.
        """
        count = len(self.notes)
        step = min((s for s in range(1, count + 1) if gcd(s, count) == 1), key=lambda s: (abs(3 * s - count), s))
        places = [0] * count
        for place in range(count):
            places[place * step % count] = place
        return places


class History:
    """What was played of a table before a day. Stamps number the plays in order, from 1; 0 is never."""

    def __init__(self, table: Table, plays: Iterable[Play], before: date) -> None:
        notes, tones = len(table.notes), len(table.tones)
        self.covered = [0] * notes  # stamp of each note's last play in the coverage lane
        self.played = [0] * table.cells  # stamp of each cell's last play in either lane
        self.practice_days = 0
        self.last_on: date | None = None
        self.note_days = [0] * notes  # practice day, from 1, of each note's last play
        self.cell_days = [0] * table.cells
        self.note_luck = [(0.0, 0.0)] * notes  # hits and misses, the older the less
        self.tone_luck = [(0.0, 0.0)] * tones
        self.cell_luck = [(0.0, 0.0)] * table.cells
        self._unreadable = [0] * table.cells  # unreadable plays in a row, up to the last
        self._table = table
        in_table = [
            (play, cell)
            for play in plays
            if play.on < before and (cell := table.cell(play.written_midi, play.tone)) is not None
        ]
        in_table.sort(key=lambda found: found[0].on)
        for stamp, (play, cell) in enumerate(in_table, 1):
            self._take(stamp, play, cell)

    def _take(self, stamp: int, play: Play, cell: int) -> None:
        if play.on != self.last_on:
            self.practice_days += 1
            self.last_on = play.on
        note = self._table.note_of(cell)
        self.played[cell] = stamp
        self.note_days[note] = self.cell_days[cell] = self.practice_days
        if play.lane == "coverage":
            self.covered[note] = stamp
        if play.outcome == "unreadable":
            self._unreadable[cell] += 1
            return
        self._unreadable[cell] = 0
        hit, miss = (1.0, 0.0) if play.outcome == "hit" else (0.0, 1.0)
        for luck, place in (
            (self.note_luck, note),
            (self.tone_luck, self._table.tone_of(cell)),
            (self.cell_luck, cell),
        ):
            hits, misses = luck[place]
            luck[place] = (hits * FORGET + hit, misses * FORGET + miss)

    def asked_again(self) -> list[int]:
        """The cells whose last play could not be read and the one before it could: asked again, once. Oldest first."""
        cells = [cell for cell, in_a_row in enumerate(self._unreadable) if in_a_row == 1]
        return sorted(cells, key=self.played.__getitem__)
