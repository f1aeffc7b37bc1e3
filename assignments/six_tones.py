"""The six tones a teacher hears before a yes, chosen by what they show and never by how good they are.

Of each kind the latest readable try is taken, on target or not. No clock, no rows, no Django.
The kinds are this house's choice: where foundations give way first (common practice among teachers).
"""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Callable, Iterable
from typing import Any, Literal, NamedTuple

from assignments.exercises import SHAPED

RECENT_DAYS = 30
NOTE_TRIES = 5  # looked at to find the notes that have just come right
SOFT = ("ppp", "pp", "p")
LOUD = ("f", "ff", "fff")
BREAK = (72, 73, 74, 75)  # written C5, C♯5 | D5, E♭5: nearly nothing closed, then nearly everything
Kind = Literal["just_right", "lowest_soft", "across_break", "top", "shape"]
KINDS: tuple[Kind, ...] = ("just_right", "just_right", "lowest_soft", "across_break", "top", "shape")
MOST = len(KINDS)


class Played(NamedTuple):
    """A counted try. ``readable``: it was heard; ``kept``: its recording is still there."""

    key: Any
    on: dt.date
    order: Any  # sorts a day
    written_midi: int
    tone: str
    hit: bool
    readable: bool
    kept: bool


class Pick(NamedTuple):
    """One of the six. ``key`` is None when nothing of its kind can be heard."""

    kind: Kind
    key: Any | None


def choose(tries: Iterable[Played], *, lowest: int, highest: int, on: dt.date) -> tuple[Pick, ...]:
    """Six picks for a horn with this written range, from the tries of the last 30 days up to ``on``."""
    since = on - dt.timedelta(days=RECENT_DAYS)
    recent = (row for row in tries if since < row.on <= on and row.readable and lowest <= row.written_midi <= highest)
    latest_first = sorted(recent, key=_age, reverse=True)
    kept = [row for row in latest_first if row.kept]
    weakest = _weakest_first(latest_first)
    tests: dict[Kind, Callable[[Played], bool]] = {
        "lowest_soft": lambda row: row.written_midi <= lowest + 3 and row.tone in SOFT,
        "across_break": lambda row: row.written_midi in BREAK and row.tone not in SHAPED,
        "top": lambda row: row.written_midi >= highest - 3 and row.tone in LOUD,
        "shape": lambda row: row.tone in SHAPED,
    }
    taken: dict[int, Played] = {}
    for place, kind in enumerate(KINDS):
        if kind != "just_right":
            _take(taken, place, [row for row in kept if tests[kind](row)])
    for place, kind in enumerate(KINDS):
        if kind == "just_right":
            rank = {note: position for position, note in enumerate(weakest)}
            _take(taken, place, sorted(kept, key=lambda row: rank[row.written_midi]))
    return tuple(Pick(kind, taken[place].key if place in taken else None) for place, kind in enumerate(KINDS))


def _age(row: Played) -> tuple[dt.date, Any]:
    return row.on, row.order


def _take(taken: dict[int, Played], place: int, candidates: list[Played]) -> None:
    """The first candidate on a note that isn't among the six yet; else the first tone that isn't."""
    notes = {row.written_midi for row in taken.values()}
    keys = {row.key for row in taken.values()}
    fresh = [row for row in candidates if row.key not in keys]
    found = next((row for row in fresh if row.written_midi not in notes), next(iter(fresh), None))
    if found is not None:
        taken[place] = found


def _weakest_first(latest_first: list[Played]) -> list[int]:
    """Notes by the share of their last five tries that hit; of equals the one that missed last."""
    of_note: defaultdict[int, list[Played]] = defaultdict(list)
    for row in latest_first:
        if len(of_note[row.written_midi]) < NOTE_TRIES:
            of_note[row.written_midi].append(row)

    def strength(note: int) -> tuple[float, int]:
        rows = of_note[note]
        since_miss = next((age for age, row in enumerate(rows) if not row.hit), NOTE_TRIES)
        return sum(row.hit for row in rows) / len(rows), since_miss

    return sorted(of_note, key=lambda note: (*strength(note), note))
