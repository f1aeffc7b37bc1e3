"""Which moments of a student's playing are worth a teacher's ear, and why. No clock, no rows, no Django.

At most seven. What comes back on several days goes before what happened once, what holds the high notes up before the
rest, and the newest before the older; no note twice for the same thing. The order is this house's choice.
"""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Iterable, Mapping, Sequence
from typing import Any, Literal, NamedTuple

MOST = 7
Why = Literal["squeeze", "again", "short", "new"]
ORDER: tuple[Why, ...] = ("again", "short", "new")  # after the squeezed ones


class Missed(NamedTuple):
    """A try that was not on target. ``key`` is its own, ``order`` sorts a day, ``checks`` are as it keeps them."""

    key: Any
    on: dt.date
    order: Any
    written_midi: int
    tone: str
    checks: Sequence[Mapping[str, Any]]


class Moment(NamedTuple):
    """One try to hear. ``codes``: what happened in it, the must-haves first; ``days``: those that had the same.

    ``at_s``: where to listen, in take seconds; None: where the try's own checks say.
    """

    key: Any
    why: Why
    codes: tuple[str, ...]
    days: tuple[dt.date, ...]
    at_s: tuple[float, float] | None = None


def choose(
    missed: Iterable[Missed], notes_short: Collection[int] = (), squeezed: Sequence[Moment] = ()
) -> list[Moment]:
    """The moments of one student since the last lesson, first the one to hear first.

    ``notes_short``: notes that the gate still waits for; ``squeezed``: see ``of_squeezes``.
    """
    taken = {moment.key for moment in squeezed}
    newest_first = sorted(
        (row for row in missed if row.key not in taken), key=lambda row: (row.on, row.order), reverse=True
    )
    alike: dict[tuple[int, str], list[Missed]] = {}  # the same note for the same main thing
    for row in newest_first:
        alike.setdefault((row.written_midi, next(iter(codes(row.checks)), "")), []).append(row)
    found = []
    for rows in alike.values():
        newest = rows[0]
        days = tuple(sorted({row.on for row in rows}))
        found.append(Moment(newest.key, _why(newest, len(days), notes_short), codes(newest.checks), days))
    found.sort(key=lambda moment: ORDER.index(moment.why))  # stable: the newest stay first within one reason
    return [*squeezed, *found][:MOST]


def of_squeezes(found: Iterable[Mapping[str, Any]], since: dt.date) -> list[Moment]:
    """Possible squeezes of soft tones, as a played day keeps them: of each note the newest sign since that day."""
    chosen = []
    for squeeze in found:
        signs = [sign for sign in squeeze["signs"] if dt.date.fromisoformat(sign["on"]) >= since]
        if signs:
            names = dict.fromkeys(f"squeeze_{sign['name']}" for sign in squeeze["signs"])
            days = tuple(sorted(dt.date.fromisoformat(day) for day in squeeze["days"]))
            at_s = (float(signs[0]["at_s"][0]), float(signs[0]["at_s"][1]))
            chosen.append(Moment(uuid.UUID(signs[0]["try"]), "squeeze", tuple(names), days, at_s))
    return chosen


def codes(checks: Sequence[Mapping[str, Any]]) -> tuple[str, ...]:
    """What was not met in a try, the must-haves first, each once."""
    missed = [check for check in checks if check["verdict"] == "missed" and check.get("code")]
    return tuple(dict.fromkeys(str(check["code"]) for check in sorted(missed, key=lambda check: not check["must"])))


def here(checks: Sequence[Mapping[str, Any]]) -> tuple[float, float] | None:
    """The stretch to hear, in take seconds: where the first thing that was not met shows."""
    missed = [check for check in checks if check["verdict"] == "missed" and check.get("at_s")]
    first = next(iter(sorted(missed, key=lambda check: not check["must"])), None)
    return (float(first["at_s"][0]), float(first["at_s"][1])) if first else None


def _why(row: Missed, days: int, notes_short: Collection[int]) -> Why:
    if days > 1:
        return "again"
    return "short" if row.written_midi in notes_short else "new"
