"""A term of practice judged by the gate: what the reference tests of the gate share."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import timedelta
from functools import cache
from typing import Any

from assignments import gate
from tests.reference.gate_students import BASE, FIRST, LOWEST, NOTES, Population, Setting, as_days

POINTS = 3.0
NEVER = 10_000
ALONE: dict[str, Any] = {"teacher_confirms": False, "shuts_at": None, "notice_at": None, "rest_after_days": None}
NO_NOTE_RULE = {"note_tries": 0}


def opened_on_day(days: Sequence[gate.Day], rule: gate.Rule) -> int:
    """The practice day, from 1, on which a student first gets through."""
    found = judged(days, rule)
    return (found.openings[0].opened_on - FIRST).days + 1 if found.openings else NEVER


def judged(days: Sequence[gate.Day], rule: gate.Rule) -> gate.Standing:
    on = FIRST + timedelta(len(days) - 1)
    return gate.evaluate(days, on=on, lowest_written=LOWEST, highest_written=LOWEST + NOTES - 1, rules=rule)


@cache
def students(p: float, setting: Setting = BASE, count: int = 1500, days: int = 60) -> list[list[gate.Day]]:
    return [as_days(heard) for heard in Population.of(count, p, seed=round(p * 100), setting=setting).play(days)]
