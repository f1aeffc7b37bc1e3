"""Range: which notes stand?"""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate, standings
from assignments.models import DayPlan
from assignments.queries import past
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
    plan = DayPlan.objects.filter(horn=horn, on=on).first()
    today = {(tone["written_midi"], tone["tone"]) for tone in plan.tones} if plan else set()
    return RangePage(
        horn=horn,
        on=on,
        rows=past.range_rows(horn, history, standing, today),
        standing=standing,
        latest=next((row.key for row in reversed(history) if row.readable and row.kept), None),
        is_empty=not history,
    )
