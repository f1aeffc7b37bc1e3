"""One history in, the tones of one day out: the lines that ``manage.py plan`` reads and writes."""

from __future__ import annotations

from collections.abc import Mapping
from hashlib import sha256
from typing import Any

from assignments import planner
from assignments.histories import form
from assignments.histories.lines import HistoryError, LongInteger


def plan(history: Mapping[str, Any]) -> dict[str, Any]:
    """The plan of one history's next day, as plain fields. Raises HistoryError."""
    lowest, highest = form.field(history, "range", form.written_range)
    try:
        found = planner.plan(
            form.field(history, "tries", form.plays),
            on=form.field(history, "on", form.day),
            lowest_written=lowest,
            highest_written=highest,
            slots=form.field(history, "slots", _slots),
            seed=form.field(history, "seed", _seed),
            tones=form.optional(history, "tones", _tones, list(planner.TONES)),
            pins=form.optional(history, "pins", _pins, []),
            excluded=form.optional(history, "excluded", form.notes, []),
        )
    except planner.NothingToPlanError as trouble:
        raise HistoryError(str(trouble)) from trouble
    return {
        "tones": [planned._asdict() for planned in found.tones],
        "bounds": found.bounds._asdict(),
        "oldest": found.oldest._asdict(),
    }


def _slots(value: object, where: str) -> int:
    return form.whole(value, where, 1, planner.MOST_SLOTS)


def _seed(value: object, where: str) -> int:
    """Any whole number; one of very many digits is told from others by its digest."""
    if isinstance(value, LongInteger):
        return int.from_bytes(sha256(value.encode()).digest(), "big")
    if type(value) is not int:
        raise form.wrong(where, value, "a whole number")
    return value


def _tones(value: object, where: str) -> list[str]:
    return [form.tone(tone, f"{where}[{place}]") for place, tone in enumerate(form.listed(value, where))]


def _pins(value: object, where: str) -> list[tuple[int, str]]:
    return [
        (form.field(item, "written_midi", form.written_midi, place), form.field(item, "tone", form.tone, place))
        for item, place in form.objects(value, where)
    ]
