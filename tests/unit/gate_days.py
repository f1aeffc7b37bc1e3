"""A student's days in a few numbers, for the tests of the gate. Day 0 is Monday, 5 January 2026."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, timedelta
from typing import Any

from assignments import gate

DAY_0 = date(2026, 1, 5)
# A rule that a handful of days can meet: two on-target days of three, nothing else asked.
SMALL: dict[str, object] = {
    "minimum_readable": 1,
    "window_days": 3,
    "window_span_days": 10,
    "opens_at": 2,
    "note_tries": 0,
    "notice_at": None,
    "shuts_at": None,
    "grace_days": 0,
    "rest_after_days": None,
}
Said = tuple[Any, ...]  # (day, kind) or (day, kind, last day)


def day(number: int) -> date:
    return DAY_0 + timedelta(days=number)


def small(**changes: object) -> gate.Rule:
    return gate.rule_from(SMALL | changes)


def hit(number: int, note: int = 60, tone: str = "mf") -> gate.Try:
    return gate.Try(day(number), note, tone, "hit")


def miss(number: int, note: int = 60, tone: str = "mf") -> gate.Try:
    return gate.Try(day(number), note, tone, "miss")


def unreadable(number: int, note: int = 60, tone: str = "mf") -> gate.Try:
    return gate.Try(day(number), note, tone, "unreadable")


def stand(
    on: int,
    *,
    good: Iterable[int] = (),
    bad: Iterable[int] = (),
    tries: Sequence[gate.Try] = (),
    said: Iterable[Said] = (),
    rules: gate.Rule | Sequence[gate.RuleFrom] | None = None,
    highest: int = 60,
    excluded: Sequence[int] = (),
    **changes: object,
) -> gate.Standing:
    """The standing at the end of day ``on``. ``good`` and ``bad``: days with one hit, or one miss, of note 60."""
    played = [hit(number) for number in good] + [miss(number) for number in bad] + list(tries)
    return gate.evaluate(
        gate.days(played, 60, highest),
        on=day(on),
        lowest_written=60,
        highest_written=highest,
        excluded=excluded,
        rules=small(**changes) if rules is None else rules,
        decisions=[gate.Decision(day(d), kind, day(until[0]) if until else None) for d, kind, *until in said],
    )


def opened_and_shut(standing: gate.Standing) -> list[tuple[int, int | None]]:
    """The openings as day numbers."""
    return [
        ((spell.opened_on - DAY_0).days, (spell.shut_on - DAY_0).days if spell.shut_on else None)
        for spell in standing.openings
    ]
