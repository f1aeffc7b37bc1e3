"""Everything one horn has played of its daily tones, light enough to read whole; and the range drawn from it."""

from __future__ import annotations

import datetime as dt
import uuid
from collections import defaultdict, deque
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from django.utils.translation import gettext as _

from assignments import gate
from assignments.models import Try
from studio.models import Horn, Studio

SWEPT_WITHIN_DAYS = 7  # a recording whose time is over is gone by then, even after a machine stood still
READABLE = frozenset((Try.Outcome.HIT.value, Try.Outcome.MISS.value))  # asked of every try of years


class Past(NamedTuple):
    """One counted try, without what was measured.

    ``order``: its place in all that was played; ``kept``: its recording is still there; ``speaks``: to the gate, as
    the first readable try of a tone on a day.
    """

    key: uuid.UUID
    on: dt.date
    order: int
    written_midi: int
    tone: str
    outcome: str
    kept: bool
    speaks: bool

    @property
    def readable(self) -> bool:
        return self.outcome in READABLE


@dataclass(frozen=True, slots=True)
class Cell:
    """What a tone last came to (None: not played), and where it can be heard, on a page that links it."""

    outcome: str | None
    played_on: dt.date | None
    today: bool
    href: str = ""


@dataclass(frozen=True, slots=True)
class RangeRow:
    """One note: what each tone last came to, whether the note stands, else how near it is."""

    written_midi: int
    cells: Mapping[str, Cell]
    stands: bool
    short: str
    href: str


def of_horn(horn: Horn) -> list[Past]:
    """In playing order. Two queries."""
    rows = Try.objects.filter(horn=horn, counts=True).order_by("on", "played_at", "slot")
    columns = rows.values_list("pk", "on", "written_midi", "tone", "outcome")
    kept = _kept(horn)
    found: list[Past] = []
    said: set[tuple[int, str]] = set()  # of that day
    for place, (key, on, midi, tone, outcome) in enumerate(columns):
        if found and found[-1].on != on:
            said.clear()
        speaks = outcome in READABLE and (midi, tone) not in said
        if speaks:
            said.add((midi, tone))
        found.append(Past(key, on, place, midi, tone, outcome, key in kept, speaks))
    return found


def kept_since(studio: Studio) -> dt.date:
    """The first day whose recordings may still be there."""
    return studio.today() - dt.timedelta(days=studio.keep_takes_days + SWEPT_WITHIN_DAYS)


def _kept(horn: Horn) -> set[uuid.UUID]:
    """Tries whose recording is still there. Only days that may have one are looked through: years would take long.

    Horn and day are told of the takes too, as both are indexed: else a database joins with those of the whole site.
    """
    since = kept_since(horn.studio)
    sounding = Try.objects.filter(horn=horn, take__horn=horn).exclude(take__analysis__audio="")
    lately = sounding.filter(on__gte=since, take__on__gte=since)
    milestones = sounding.filter(take__milestone__isnull=False)
    return set(lately.values_list("pk", flat=True).union(milestones.values_list("pk", flat=True)))


def range_rows(
    horn: Horn,
    past: Sequence[Past],
    standing: gate.Standing,
    today: Collection[tuple[int, str]] = (),
    hrefs: Mapping[int, str] | None = None,
) -> tuple[RangeRow, ...]:
    """High to low, for ``{% range_table %}``. ``today``: (written_midi, tone) pairs of today's set."""
    cells: defaultdict[int, dict[str, Cell]] = defaultdict(dict)
    for (midi, tone), row in {(row.written_midi, row.tone): row for row in past}.items():  # the last of each
        cells[midi][tone] = Cell(row.outcome, row.on, (midi, tone) in today)
    lately = _lately(past, standing.rule.note_tries)
    low, high = horn.written_range
    return tuple(
        RangeRow(
            written_midi=midi,
            cells=cells[midi],
            stands=bool(standing.days) and midi not in standing.notes_short,
            short=_short(lately[midi]) if midi in standing.notes_short else "",
            href=(hrefs or {}).get(midi, ""),
        )
        for midi in range(high, low - 1, -1)
    )


def _lately(past: Sequence[Past], tries: int) -> defaultdict[int, deque[bool]]:
    """By note: whether its last tries hit."""
    found: defaultdict[int, deque[bool]] = defaultdict(lambda: deque(maxlen=tries))
    for row in past:
        if row.speaks:
            found[row.written_midi].append(row.outcome == Try.Outcome.HIT)
    return found


def _short(tries: Collection[bool]) -> str:
    return _("%(hits)d of %(tries)d") % {"hits": sum(tries), "tries": len(tries)} if tries else ""
