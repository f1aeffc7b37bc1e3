"""The shapes a gate speaks in. Frozen, and free of rows, clocks and Django.

``written_midi`` is what the player reads, 0 to 127. Dates are studio-local days.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from typing import Literal, NamedTuple

from assignments.gate.rule import Rule

State = Literal["paused", "open", "resting", "shut", "ready", "building"]

HIT = 128  # added to a counted try's written note when it hit; the notes themselves end at 127


class Try(NamedTuple):
    """A tone that was asked for, as it was heard. ``outcome``: hit, miss or unreadable."""

    on: date
    written_midi: int
    tone: str
    outcome: str


class Day(NamedTuple):
    """One day's playing, as much of it as the gate needs: 20 bytes for 20 tones, so a year is quickly read.

    ``counted`` holds one byte a counted try, in playing order: its written note, plus 128 if it hit. ``in_range`` says
    that something was played inside the range, readable or not. A day with a try always has its ``Day``: it was played.
    """

    on: date
    counted: bytes
    in_range: bool


class Decision(NamedTuple):
    """What a teacher decided: confirm, not_yet, open, shut, pause or resume. Those of one day in the order made."""

    on: date
    kind: str
    until: date | None = None


class RuleFrom(NamedTuple):
    """A rule and the first day it judges."""

    starts_on: date
    rule: Rule


class Verdict(NamedTuple):
    """One day: counted tries, how many of them hit, and whether that was on target (None: not judged)."""

    on: date
    readable: int
    hits: int
    on_target: bool | None


class Window(NamedTuple):
    """The judged days that the last test looked at, and how many of them were on target."""

    days: int
    on_target: int


class Spell(NamedTuple):
    """A spell in which the gate stood open. ``shut_on`` is the first day it no longer did; None: it still does."""

    opened_on: date
    shut_on: date | None


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a student stands at the end of day ``on``, and why."""

    on: date
    state: State
    days: tuple[Verdict, ...]
    window: Window
    notes_short: tuple[int, ...]
    openings: tuple[Spell, ...]
    opened_on: date | None
    shut_on: date | None
    notice: bool
    reasons: tuple[str, ...]
    rule: Rule  # the one in force: that of the last test
    notes_asked: int  # how many notes the note rule asks about
    until: date | None  # last day of the pause or override that holds; None: none, or without end
    rest_days_left: int  # on-target days still asked for while resting

    @property
    def is_open(self) -> bool:
        return self.state in ("open", "resting")


def days(tries: Iterable[Try], lowest_written: int, highest_written: int) -> list[Day]:
    """Fold tries into days, oldest first. Tries of one day come in the order played, days in any order.

    Counted is the first readable try of a tone on a day; later ones are retakes and count for nothing.
    """
    folded: dict[date, tuple[bytearray, set[tuple[int, str]], list[bool]]] = {}
    for on, written_midi, tone, outcome in tries:
        day = folded.get(on)
        if day is None:
            day = folded[on] = (bytearray(), set(), [])
        if not lowest_written <= written_midi <= highest_written:
            continue
        counted, seen, in_range = day
        if not in_range:
            in_range.append(True)
        if outcome == "unreadable" or (written_midi, tone) in seen:
            continue
        seen.add((written_midi, tone))
        counted.append(written_midi + HIT if outcome == "hit" else written_midi)
    return [Day(on, bytes(counted), bool(in_range)) for on, (counted, _, in_range) in sorted(folded.items())]
