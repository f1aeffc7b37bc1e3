"""Histories come as lines of JSON, one object a line; each line gets its answer, and a bad one harms no other."""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator, Mapping
from typing import Any, BinaryIO, NamedTuple

LONGEST_LINE = 16 * 1024 * 1024  # bytes
_CHUNK = 1024 * 1024
_BYTE_ORDER_MARK = b"\xef\xbb\xbf"
_MOST_DIGITS = 600  # Python reads longer whole numbers slowly, and some installations not at all

Answer = Callable[[Mapping[str, Any]], dict[str, Any]]


class HistoryError(ValueError):
    """A line that is not a history. The message says what is wrong and where."""


class LongInteger(str):
    """A whole number too long to reckon with: kept as its digits, good for an id or a seed."""

    __slots__ = ()


class Answered(NamedTuple):
    """The line to write, and whether the history could be read."""

    text: str
    was_read: bool


def answers(stream: BinaryIO, answer: Answer) -> Iterator[Answered]:
    """One answer for each line that is not blank, in order, each as soon as its line was read."""
    for line in _lines(stream):
        if line is None:
            yield _refused(
                None, f"the line is longer than {LONGEST_LINE} bytes; give fewer tries, or split the history"
            )
        elif line.strip():
            yield _answered(line, answer)


def _lines(stream: BinaryIO) -> Iterator[bytes | None]:
    """The lines of a stream; None for one that is too long, which is passed over piece by piece."""
    line = stream.readline(LONGEST_LINE + 1).removeprefix(_BYTE_ORDER_MARK)
    while line:
        if len(line) > LONGEST_LINE and not line.endswith(b"\n"):
            while line and not line.endswith(b"\n"):
                line = stream.readline(_CHUNK)
            yield None
        else:
            yield line
        line = stream.readline(LONGEST_LINE + 1)


def _answered(line: bytes, answer: Answer) -> Answered:
    identity: object = None
    try:
        history, problems = _parsed(line)
        identity = _identity(history)
        if problems:
            raise HistoryError(problems[0])
        return Answered(_written(identity, answer(history)), True)
    except HistoryError as trouble:
        return _refused(identity, str(trouble))


def _refused(identity: object, problem: str) -> Answered:
    return Answered(_written(identity, {"error": problem}), False)


def _written(identity: object, fields: Mapping[str, Any]) -> str:
    shown = str(identity) if isinstance(identity, LongInteger) else json.dumps(identity)
    return f'{{"id": {shown}, {json.dumps(fields)[1:]}'


def _parsed(line: bytes) -> tuple[Mapping[str, Any], list[str]]:
    """The object on a line, and what in it is no number although it stands where numbers stand. Raises HistoryError."""
    problems: list[str] = []

    def no_number(text: str) -> None:
        problems.append(f"{text[:40]} is not a number that can be reckoned with")

    def finite(text: str) -> float:
        number = float(text)
        if math.isinf(number):
            no_number(text)
        return number

    try:
        found = json.loads(line.decode("utf-8"), parse_constant=no_number, parse_float=finite, parse_int=_whole)
    except UnicodeDecodeError as trouble:
        raise HistoryError(
            f"the line is not UTF-8 at its byte {trouble.start + 1}; save the file as UTF-8"
        ) from trouble
    except json.JSONDecodeError as trouble:
        raise HistoryError(f"the line is not JSON: {trouble.msg} at character {trouble.pos + 1}") from trouble
    except RecursionError as trouble:
        raise HistoryError(
            "the line is nested too deep; a history is an object with lists of plain objects"
        ) from trouble
    if not isinstance(found, dict):
        raise HistoryError("the line is not an object; write {…} with id, on, range and tries")
    return found, problems


def _identity(history: Mapping[str, Any]) -> object:
    if "id" not in history:
        raise HistoryError("id is missing; give a text or a whole number")
    identity = history["id"]
    if isinstance(identity, bool) or not isinstance(identity, str | int):
        raise HistoryError("id must be a text or a whole number")
    return identity


def _whole(text: str) -> int | LongInteger:
    return int(text) if len(text) <= _MOST_DIGITS else LongInteger(text)
