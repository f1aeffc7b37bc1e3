"""What a plan is made from and what it looks like. Frozen, and free of rows, clocks and Django."""

from __future__ import annotations

from datetime import date
from typing import Literal, NamedTuple

Lane = Literal["coverage", "focus"]
Why = Literal["oldest", "needs_work", "teacher", "easy"]

TONES = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff", "stepped", "swell", "reverse_swell")
SOFT = frozenset({"ppp", "pp"})  # hard on the lips; never more than two running
LOUD = frozenset({"ff", "fff"})  # hard on the breath; never more than two running


class NothingToPlanError(ValueError):
    """No note or no tone is left to choose from."""


class Play(NamedTuple):
    """A tone that was played, readable or not. ``lane``: the one it was planned in; None: free playing, a retake."""

    on: date
    written_midi: int
    tone: str
    outcome: str
    lane: Lane | None = None


class Planned(NamedTuple):
    """One tone of a day, and why it is in it."""

    written_midi: int
    tone: str
    lane: Lane
    why: Why


class Waits(NamedTuple):
    """How long a note, and a single tone of a note, waits for its turn, in practice days."""

    note_days: int
    tone_days: int


class DayPlan(NamedTuple):
    """The tones of one day in playing order; how long any may have to wait, and how long the oldest has."""

    tones: tuple[Planned, ...]
    bounds: Waits
    oldest: Waits
