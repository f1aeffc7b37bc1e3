"""Measurement <-> the JSON report: what ``manage.py measure --json`` prints and the database keeps.

The form is that of the public report, with fields added: strict JSON (no NaN), null where nothing could be measured,
numbers rounded to what they can mean. ``format`` tells later readers what they hold.
"""

from __future__ import annotations

import dataclasses
import math
import types
import typing
from collections.abc import Callable, Mapping
from functools import cache
from typing import Any

from analysis.core.records import Measurement

FORMAT = 1
NOISE = {"hnr_db"}  # of a tone: the report groups them under "noise"
DIGITS = 5  # significant digits after which nothing is told: 0.01 cents in 1 kHz


def report(measurement: Measurement) -> dict[str, Any]:
    """The report as plain JSON values."""
    plain = _plain(dataclasses.asdict(measurement))
    for tone in plain["tones"]:
        tone["noise"] = {name: tone.pop(name) for name in sorted(NOISE)}
    return {"format": FORMAT, **plain}


def measurement(report: Mapping[str, Any]) -> Measurement:
    """The Measurement that ``report`` was made of, as far as it was rounded. ``ValueError``: another format."""
    if report.get("format") != FORMAT:
        raise ValueError(f"A report of format {report.get('format')!r} cannot be read; this is format {FORMAT}.")
    tones = [{**tone, **tone["noise"]} for tone in report["tones"]]
    return typing.cast(Measurement, _reader(Measurement)({**report, "tones": tones}))


def _plain(value: Any, name: str = "") -> Any:
    if isinstance(value, Mapping):
        return {str(key): _plain(item, str(key)) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_plain(item, name) for item in value]
    if isinstance(value, bool | str | int | None):
        return value
    number = float(value)
    return _rounded(number, name) if math.isfinite(number) else None


def _rounded(number: float, name: str) -> float:
    """Times to 0.1 ms, all else to 0.001 of its unit; Hz to six digits."""
    if name.endswith("_hz"):
        return float(f"{number:.7g}")
    return round(number, 4 if name.endswith("_s") else 3)


@cache
def _reader(kind: Any) -> Callable[[Any], Any]:
    """What makes the frozen record, tuple or number that ``kind`` says of plain JSON. Found out once a kind."""
    origin, inner = typing.get_origin(kind), typing.get_args(kind)
    if origin in (typing.Union, types.UnionType):
        read = _reader(next(one for one in inner if one is not type(None)))
        return lambda value: None if value is None else read(value)
    if origin is tuple and inner[1:] == (...,):
        each = _reader(inner[0])
        return lambda value: tuple(map(each, value))
    if origin is tuple:
        places = tuple(map(_reader, inner))
        return lambda value: tuple(read(item) for read, item in zip(places, value, strict=True))
    if isinstance(kind, type) and dataclasses.is_dataclass(kind):
        fields = {name: _reader(hint) for name, hint in typing.get_type_hints(kind).items()}
        return lambda value: kind(**{name: read(value[name]) for name, read in fields.items() if name in value})
    if kind is float:
        return lambda value: None if value is None else float(value)
    return lambda value: value
