"""What a tone is held against: the tables of data/targets.toml with a teacher's changes laid over them."""

from __future__ import annotations

import tomllib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from functools import cache
from pathlib import Path
from typing import Any, Literal, get_args

from analysis.core.records import Dynamic, Shape, Target

Level = Literal["beginner", "intermediate", "advanced"]
LEVELS: tuple[Level, ...] = get_args(Level)
TONES = (*get_args(Dynamic), *get_args(Shape))
MEASURES = tuple(field.name for field in fields(Target))
DATA = Path(__file__).parent / "data"
MOST_SHARE = 1000.0  # of what should be there and is not at all


@dataclass(frozen=True, slots=True)
class Row:
    """One row of the table: a measure, its limit for each level, and where it holds."""

    measure: str
    limits: Mapping[str, float]
    when: tuple[str, ...]
    add: bool
    unit: str
    source: str
    where: str
    kind: str
    why: str


@cache
def rows() -> tuple[Row, ...]:
    """Every row of data/targets.toml in its order: general rows stand before their exceptions."""
    return tuple(
        Row(
            measure=row["measure"],
            limits={level: float(row[level]) for level in LEVELS},
            when=tuple(row.get("when", ())),
            add=bool(row.get("add", False)),
            **{name: row[name] for name in ("unit", "source", "where", "kind", "why")},
        )
        for row in _table()["row"]
    )


def target_for(
    level: Level,
    written_midi: int,
    tone: str,
    *,
    lowest: int,
    highest: int,
    changes: Iterable[Mapping[str, Any]] = (),
    partial: int | None = None,
    on: str | None = None,
) -> Target:
    """The limits for one tone.

    ``tone`` is a dynamic mark or a shape, ``lowest`` and ``highest`` the student's written range; ``partial`` names
    overtone work. ``changes`` are the teacher's: mappings with ``measure``, ``value`` (None: as if nothing so near
    had been said) or ``factor`` (how many times as wide as the table's for this tone), ``from`` (ISO date) and perhaps
    ``written_midi`` and ``tone``. Those dated after ``on`` do not count yet (``on`` None: all count). What is said for
    one note and tone stands above what is said for all; among equals the later date stands. ``ValueError`` for an
    unknown level, tone or measure.
    """
    if level not in LEVELS:
        raise ValueError(f"There is no level {level!r}; there are: {', '.join(LEVELS)}.")
    if tone not in TONES:
        raise ValueError(f"There is no tone {tone!r}; there are: {', '.join(TONES)}.")
    places = _places(written_midi, tone, lowest, highest, partial)
    limits = {"note_offset_cents": 0.0}
    for row in rows():
        if not row.when or places & set(row.when):
            limits[row.measure] = row.limits[level] + (limits[row.measure] if row.add else 0.0)
    for change in _in_force(changes, written_midi, tone, on):
        measure, factor = change["measure"], change.get("factor")
        limits[measure] = float(change["value"]) if factor is None else widened(measure, limits[measure], float(factor))
    return Target(**limits)


def is_within(measure: str, value: float, limit: float) -> bool:
    """Whether ``value`` lies on the good side of a target's limit, or on it."""
    return value >= limit if measure in _table()["sides"]["at_least"] else value <= limit


def share(measure: str, value: float, limit: float) -> float:
    """How much of its limit a value takes up: 1 on the limit, beyond it more, 0 with nothing to find fault with."""
    sides = _table()["sides"]
    at_least, about = measure in sides["at_least"], sides["about"].get(measure)
    if about is None:
        return limit / max(value, limit / MOST_SHARE) if at_least else max(0.0, value / limit)
    way, reach = (about - value, about - limit) if at_least else (value - about, limit - about)
    return float(max(0.0, way) / max(reach, about / MOST_SHARE))


def widened(measure: str, limit: float, factor: float) -> float:
    """The limit on which a value would lie that takes up ``factor`` of ``limit``."""
    sides = _table()["sides"]
    if (about := sides["about"].get(measure)) is not None:
        return float(about + factor * (limit - about))
    return limit / factor if measure in sides["at_least"] else limit * factor


def _places(written_midi: int, tone: str, lowest: int, highest: int, partial: int | None) -> set[str]:
    """The words under which exceptions may hold for this tone."""
    table = _table()["places"]
    places = {tone}
    if partial is not None:  # of overtone work the fingered note says nothing about where it sounds
        return places | {"overtone"}
    if written_midi <= table["bell_notes_to"]:
        places.add("bell")
    edge = table["range_end_notes"]
    if written_midi < lowest + edge or written_midi > highest - edge:
        places.add("range_end")
    return places


def _in_force(
    changes: Iterable[Mapping[str, Any]], written_midi: int, tone: str, on: str | None
) -> list[Mapping[str, Any]]:
    """The changes that hold for this tone on that day, one for each measure."""
    standing: dict[tuple[str, int], tuple[tuple[str, int], Mapping[str, Any]]] = {}
    for place, change in enumerate(changes):
        if change["measure"] not in MEASURES:
            raise ValueError(f"There is no target {change['measure']!r}; there are: {', '.join(MEASURES)}.")
        note, word = change.get("written_midi"), change.get("tone")
        if note not in (None, written_midi) or word not in (None, tone) or (on is not None and change["from"] > on):
            continue
        # Said for one note and one tone is nearer than for a note, for a tone, for all tones of a student; a factor
        # is said for everybody of a level.
        nearness = -1 if change.get("factor") is not None else 2 * (note is not None) + (word is not None)
        key = (change["measure"], nearness)
        rank = (change["from"], place)
        if key not in standing or rank > standing[key][0]:
            standing[key] = (rank, change)
    nearest = {
        measure: change
        for (measure, _nearness), (_, change) in sorted(standing.items(), key=lambda item: item[0])
        if change.get("factor", change.get("value")) is not None
    }
    return list(nearest.values())


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((DATA / "targets.toml").read_text(encoding="utf-8"))


@cache
def dynamics() -> Mapping[str, Any]:
    """data/dynamics.toml: the scale and the place of each mark on it."""
    return tomllib.loads((DATA / "dynamics.toml").read_text(encoding="utf-8"))


def mark_place(dynamic: Dynamic) -> int:
    """Steps of ``dynamic`` above the softest mark: 0 for ppp … 7 for fff."""
    return int(dynamics()["mark"][dynamic]["place"])
