"""What every history is made of, checked: days, notes, tones, tries. A refusal says where and what would be right."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from typing import Any, TypeVar

from assignments.histories.lines import HistoryError
from assignments.planner import TONES, Play

FIRST_DAY, LAST_DAY = date(2000, 1, 1), date(2199, 12, 31)
HIGHEST_MIDI = 127
OUTCOMES = ("hit", "miss", "unreadable")
LANES = ("coverage", "focus")
_DAY = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}")
_MISSING = object()
Checked = TypeVar("Checked")


def shown(value: object) -> str:
    """A wrong value for a message, never long."""
    if value is None or isinstance(value, bool):
        return {None: "null", True: "true", False: "false"}[value]
    if type(value) is str:
        return f"“{value[:40]}”"
    if isinstance(value, dict | list):
        return "an object" if isinstance(value, dict) else "a list"
    return str(value)[:40]


def wrong(where: str, value: object, right: str) -> HistoryError:
    if value is _MISSING:
        return HistoryError(f"{where} is missing; it must be {right}")
    return HistoryError(f"{where} is {shown(value)}; it must be {right}")


def field(of: Mapping[str, Any], name: str, check: Callable[[object, str], Checked], where: str = "") -> Checked:
    """A field that must be there."""
    return check(of.get(name, _MISSING), f"{where}{name}")


def optional(
    of: Mapping[str, Any], name: str, check: Callable[[object, str], Checked], default: Checked, where: str = ""
) -> Checked:
    """A field that may be left out, but not be null."""
    return check(of[name], f"{where}{name}") if name in of else default


@lru_cache(maxsize=8192)
def _day(text: str) -> date | None:
    if not _DAY.fullmatch(text):
        return None
    try:
        found = date.fromisoformat(text)
    except ValueError:
        return None
    return found if FIRST_DAY <= found <= LAST_DAY else None


def day(value: object, where: str) -> date:
    found = _day(value) if type(value) is str and len(value) == 10 else None
    if found is None:
        raise wrong(where, value, f"a day like 2026-03-01, from {FIRST_DAY} to {LAST_DAY}")
    return found


def whole(value: object, where: str, lowest: int, highest: int) -> int:
    if type(value) is not int or not lowest <= value <= highest:
        raise wrong(where, value, f"a whole number from {lowest} to {highest}")
    return value


def written_midi(value: object, where: str) -> int:
    return whole(value, where, 0, HIGHEST_MIDI)


def word(value: object, where: str, words: Sequence[str]) -> str:
    if type(value) is not str or value not in words:
        raise wrong(where, value, f"one of {', '.join(words)}")
    return value


def tone(value: object, where: str) -> str:
    return word(value, where, TONES)


def listed(value: object, where: str) -> list[Any]:
    if not isinstance(value, list):
        raise wrong(where, value, "a list")
    return value


def objects(value: object, where: str) -> Iterator[tuple[Mapping[str, Any], str]]:
    """The objects of a list, each with its place: ``tries[3].``."""
    for place, item in enumerate(listed(value, where)):
        if not isinstance(item, dict):
            raise wrong(f"{where}[{place}]", item, "an object")
        yield item, f"{where}[{place}]."


def written_range(value: object, where: str) -> tuple[int, int]:
    ends = listed(value, where)
    if len(ends) != 2:
        raise HistoryError(
            f"{where} has {len(ends)} entries; it must have two, the lowest and the highest written note"
        )
    lowest, highest = (written_midi(end, f"{where}[{place}]") for place, end in enumerate(ends))
    if lowest > highest:
        raise HistoryError(f"{where} runs downwards; write the lowest written note first")
    return lowest, highest


def notes(value: object, where: str) -> list[int]:
    return [written_midi(note, f"{where}[{place}]") for place, note in enumerate(listed(value, where))]


def plays(value: object, where: str) -> list[Play]:
    """The tries, each with the lane it was planned in, if any."""
    return [
        Play(
            field(item, "on", day, place),
            field(item, "written_midi", written_midi, place),
            field(item, "tone", tone, place),
            word(item.get("outcome", _MISSING), f"{place}outcome", OUTCOMES),
            _lane(item, place),
        )
        for item, place in objects(value, where)
    ]


def _lane(item: Mapping[str, Any], where: str) -> Any:
    return word(item["lane"], f"{where}lane", LANES) if item.get("lane") is not None else None
