"""The rule: what it is made of, where it starts (data/gate.toml), and when it contradicts itself."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import Any

_TABLE: dict[str, dict[str, Any]] = tomllib.loads(
    (Path(__file__).parents[1] / "data" / "gate.toml").read_text(encoding="utf-8")
)
LARGEST_COUNT = 1000
_AT_LEAST_ONE = frozenset({"planned", "minimum_readable", "window_days", "opens_at"})


class RuleError(ValueError):
    """A rule that can't be. ``field`` says where; the message says what is wrong with it."""

    def __init__(self, field: str, problem: str) -> None:
        super().__init__(problem)
        self.field = field


@dataclass(frozen=True, slots=True)
class Rule:
    """When the gate opens, gives notice, shuts and rests. None: never. Reasons beside each default in gate.toml."""

    on_target_share: float  # of a day's readable tries
    planned: int  # tones a day
    minimum_readable: int  # fewer: the day is not judged
    window_days: int  # the latest judged days …
    window_span_days: int  # … no older than this, paused days cut out
    opens_at: int  # on-target days in a full window
    note_hits: int  # of a note's last …
    note_tries: int  # … counted tries; 0: no note rule
    note_fresh_tries: int  # counted tries of each note in the last …
    note_fresh_days: int  # … days, paused days cut out
    teacher_confirms: bool
    notice_at: int | None  # on-target and missing days together, at most
    shuts_at: int | None  # the same, for shutting
    grace_days: int  # slipping days in a row that are forgiven
    rest_after_days: int | None  # days without a note
    rest_days_on_target: int  # end the rest


@dataclass(frozen=True, slots=True)
class Range:
    """What a teacher may choose: between two ends, or one of a few (``allowed``), or nothing at all, or never."""

    default: float | int | bool | None  # None: worked out from another field
    lowest: float | int | None
    highest: float | int | None
    allowed: tuple[int | bool, ...]
    never: bool

    def holds(self, value: float | int | bool | None) -> bool:
        """Whether a teacher may choose this."""
        if value is None:
            return self.never
        if self.lowest is not None and self.highest is not None:
            return self.lowest <= value <= self.highest
        return value in self.allowed or value == self.default


RANGES: dict[str, Range] = {
    name: Range(
        row.get("default"), row.get("lowest"), row.get("highest"), tuple(row.get("allowed", ())), "never" in row
    )
    for name, row in _TABLE.items()
}
_NAMES = tuple(field.name for field in fields(Rule))


def _share(value: object) -> float:
    if type(value) not in (int, float):
        raise RuleError("on_target_share", "must be a number above 0 and up to 1")
    if not 0 < value <= 1:  # type: ignore[operator] # an int or a float, as was just asked
        raise RuleError("on_target_share", "must lie above 0 and up to 1")
    return float(value)  # type: ignore[arg-type]


def _count(name: str, value: object) -> int:
    lowest = 1 if name in _AT_LEAST_ONE else 0
    if type(value) is not int or not lowest <= value <= LARGEST_COUNT:
        never = " or null" if RANGES[name].never else ""
        raise RuleError(name, f"must be a whole number from {lowest} to {LARGEST_COUNT}{never}")
    return value


def _checked(name: str, value: object) -> float | int | bool | None:
    if name == "on_target_share":
        return _share(value)
    if name == "teacher_confirms":
        if type(value) is not bool:
            raise RuleError(name, "must be true or false")
        return value
    if value is None and RANGES[name].never:
        return None
    return _count(name, value)


def _refuse_contradictions(rule: Rule) -> None:
    if rule.shuts_at is not None and rule.shuts_at >= rule.opens_at:
        raise RuleError("shuts_at", f"must be below opens_at ({rule.opens_at})")
    if rule.opens_at > rule.window_days:
        raise RuleError("opens_at", f"must not be above window_days ({rule.window_days})")
    if rule.note_hits > rule.note_tries > 0:
        raise RuleError("note_hits", f"must not be above note_tries ({rule.note_tries})")
    if rule.window_span_days < rule.window_days:
        raise RuleError("window_span_days", f"must not be below window_days ({rule.window_days})")


def rule_from(given: Mapping[str, object]) -> Rule:
    """A rule from the fields that somebody chose; the rest are the defaults. Raises RuleError."""
    for name in given:
        if name not in RANGES:
            raise RuleError(name, f"is no field of a rule; there are {', '.join(_NAMES)}")
    chosen = {name: _checked(name, value) for name, value in given.items()}
    values: dict[str, Any] = {name: RANGES[name].default for name in _NAMES} | chosen
    if "minimum_readable" not in chosen:
        of, parts = _TABLE["minimum_readable"]["share_of_planned"]
        values["minimum_readable"] = -(-values["planned"] * of // parts)
    rule = Rule(**values)
    _refuse_contradictions(rule)
    return rule


def outside_range(rule: Rule) -> list[str]:
    """The fields that are further than a teacher may set them."""
    return [name for name, value in asdict(rule).items() if not RANGES[name].holds(value)]


DEFAULT = rule_from({})
