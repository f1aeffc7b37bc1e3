"""A plain history and the ways to spoil it, for the tests of how histories are read."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import pytest

from assignments.histories import HistoryError

TRY = {"on": "2026-02-01", "written_midi": 60, "tone": "mf", "outcome": "hit"}
GOOD: dict[str, Any] = {"on": "2026-03-01", "range": [58, 90], "tries": [TRY], "slots": 20, "seed": 7}
BAD_DAYS = [
    "2026-02-30",
    "2026-13-01",
    "2026-3-1",
    "20260301",
    "2026-W09-7",
    "2026-03-01T00:00",
    " 2026-03-01",
    "2026-03-01\n",
    "٢٠٢٦-٠٣-٠١",
    "1999-12-31",
    "2200-01-01",
    "",
    20260301,
    None,
    True,
    [],
]

Ask = Callable[[Mapping[str, Any]], dict[str, Any]]


def refusal(ask: Ask, **changes: object) -> str:
    """What a history with these fields is refused with."""
    history = {name: value for name, value in (GOOD | changes).items() if value is not Ellipsis}
    with pytest.raises(HistoryError) as refused:
        ask(history)
    return str(refused.value)


def a_try(**changes: object) -> list[Mapping[str, object]]:
    return [TRY, {name: value for name, value in (TRY | changes).items() if value is not Ellipsis}]
