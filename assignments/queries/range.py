"""Range: which notes stand?"""

from __future__ import annotations

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.urls import reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import equipment, gate, standings, weeks
from assignments.queries import past
from assignments.queries.day import plan_of
from assignments.spelled import capital, spelled
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class RangePage:
    horn: Horn
    on: dt.date
    rows: tuple[past.RangeRow, ...]
    standing: gate.Standing
    latest: object | None  # key of the newest try that can be heard
    is_empty: bool
    is_set: bool  # there are tones to play
    changes: tuple[equipment.Change, ...] = ()  # of the weeks that the table's marks come from
    baseline: str = ""

    @property
    def notes(self) -> int:
        return len(self.rows)

    @property
    def standing_notes(self) -> int:
        return sum(row.stands for row in self.rows)

    @property
    def headline(self) -> str:
        if self.is_empty:
            return _("One tone, and the first block is laid")
        short = len(self.standing.notes_short) if self.standing.days else self.notes
        if not self.standing.rule.note_tries:
            return _("Your range")
        if not short:
            return _("Every note stands")
        if short > self.notes // 2:
            return ngettext("%(n)s note stands", "%(n)s notes stand", self.standing_notes) % {
                "n": capital(spelled(self.standing_notes))
            }
        return ngettext("%(n)s note still short", "%(n)s notes still short", short) % {"n": capital(spelled(short))}

    @property
    def stands(self) -> str:
        """What a post means: “3 of 5”."""
        rule = self.standing.rule
        if not rule.note_tries:
            return ""
        return _("%(hits)d of %(tries)d") % {"hits": rule.note_hits, "tries": rule.note_tries}


def page(horn: Horn, on: dt.date) -> RangePage:
    """A fixed number of queries."""
    history = past.of_horn(horn)
    standing = standings.standing(horn, on=on)
    plan = plan_of(horn, on)
    today = {(tone["written_midi"], tone["tone"]) for tone in plan.tones} if plan else set()
    rows = past.range_rows(horn, history, standing, today)
    heard = {(one.written_midi, one.tone): one.key for one in history}
    oldest = min((cell.played_on for row in rows for cell in row.cells.values() if cell.played_on), default=on)
    changes = equipment.changes(horn, oldest)
    return RangePage(
        horn=horn,
        on=on,
        rows=tuple(replace(row, cells=_linked(row, heard, today)) for row in rows),
        standing=standing,
        latest=next((row.key for row in reversed(history) if row.readable and row.kept), None),
        is_empty=not history,
        is_set=bool(plan or history) or weeks.in_force(horn, on) is not None,
        changes=changes,
        baseline=equipment.baseline(changes, on),
    )


def _linked(
    row: past.RangeRow, heard: Mapping[tuple[int, str], object], today: set[tuple[int, str]]
) -> dict[str, past.Cell]:
    """The row's cells with their pages, and those that are only asked for today."""
    asked = {tone: past.Cell(None, None, True, "") for midi, tone in today if midi == row.written_midi}
    return asked | {
        tone: past.Cell(
            cell.outcome, cell.played_on, cell.today, reverse("one_tone", args=[heard[row.written_midi, tone]])
        )
        for tone, cell in row.cells.items()
    }
