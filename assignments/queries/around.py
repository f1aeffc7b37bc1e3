"""What can be heard beside a tone: its neighbours, and the same tone some weeks ago, made as loud as now."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from uuid import UUID

from assignments.exercises import SHAPED, TONE_WORDS
from assignments.queries.past import Past
from assignments.queries.sounding import Sounding

# Two and four weeks ago: the day aimed at, the nearest and the farthest that will do.
AGO_DAYS = ((14, 7, 21), (28, 22, 42))
LOUDEST_CHANGE_DB = 12.0  # of matching two takes; beyond it the phone stood elsewhere


@dataclass(frozen=True, slots=True)
class Before:
    """The same tone some weeks ago, made as loud as now."""

    weeks: int
    sounding: Sounding
    gain_db: float


def around(row: Past, history: Sequence[Past]) -> dict[str, Past]:
    """The notes ``below`` and ``above``, the same tone ``14`` and ``28`` days before, where they can be heard."""
    audible = [other for other in history if other.kept and other.readable and other.on <= row.on]
    found = {
        "below": _latest_near([other for other in audible if other.written_midi == row.written_midi - 1], row.tone),
        "above": _latest_near([other for other in audible if other.written_midi == row.written_midi + 1], row.tone),
    }
    same = [other for other in audible if (other.written_midi, other.tone) == (row.written_midi, row.tone)]
    for aim, nearest, farthest in AGO_DAYS:
        then = [other for other in same if nearest <= (row.on - other.on).days <= farthest]
        found[str(aim)] = min(then, key=lambda other: abs((row.on - other.on).days - aim), default=None)
    return {name: other for name, other in found.items() if other is not None}


def neighbours(near: Mapping[str, Past], heard: Mapping[UUID, Sounding], now: Sounding) -> tuple[Sounding, ...]:
    """Below, this one, above, to be heard in turn; empty where there is none beside it, or it can't be heard itself."""
    below, above = ([heard[near[side].key]] if side in near else [] for side in ("below", "above"))
    return (*below, now, *above) if (below or above) and now.tone and now.is_kept else ()


def before(weeks_ago: int, then: Sounding, now: Sounding) -> Before:
    """``then`` with the gain that makes it as loud as ``now``."""
    return Before(weeks_ago, then, matching_db(now, then.tone.level_db if then.tone else None))


def matching_db(now: Sounding, level_db: float | None) -> float:
    """The gain that makes a tone of that level as loud as ``now``; 0 where one of them is not known."""
    gain_db = now.tone.level_db - level_db if now.tone and level_db is not None else 0.0
    return round(max(-LOUDEST_CHANGE_DB, min(LOUDEST_CHANGE_DB, gain_db)), 1)


def _latest_near(rows: Sequence[Past], tone: str) -> Past | None:
    """The latest of the same tone; else of the plain level next to it. Another shape is no neighbour."""
    if tone in SHAPED:
        return next((row for row in reversed(rows) if row.tone == tone), None)
    plain = [row for row in rows if row.tone not in SHAPED]
    aim = TONE_WORDS.index(tone)
    return min(reversed(plain), key=lambda row: abs(TONE_WORDS.index(row.tone) - aim), default=None)
