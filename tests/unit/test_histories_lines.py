"""Histories line by line: each gets its answer, a bad one harms no other, and a huge one is never held."""

from __future__ import annotations

import io
import json
import tracemalloc
from typing import Any

import pytest

from assignments import histories
from assignments.histories.lines import LONGEST_LINE, answers

GOOD: dict[str, Any] = {"id": "a", "on": "2026-03-01", "range": [58, 90], "tries": []}


def answered(*lines: bytes | dict[str, Any]) -> list[Any]:
    """The answers to these lines, as objects."""
    written = [line if isinstance(line, bytes) else json.dumps(line).encode() for line in lines]
    return [json.loads(text) for text, _ in answers(io.BytesIO(b"\n".join(written)), histories.standing)]


def test_each_line_gets_one_line_in_the_same_order() -> None:
    found = answered(GOOD, GOOD | {"id": 2}, GOOD | {"id": "c"})
    assert [answer["id"] for answer in found] == ["a", 2, "c"]
    assert {answer["state"] for answer in found} == {"building"}


def test_a_bad_line_gets_an_error_in_its_place_and_the_others_are_unharmed() -> None:
    found = answered(GOOD, b"{nonsense", GOOD | {"id": 3, "range": [90, 58]}, GOOD)
    assert found[0] == found[3] == answered(GOOD)[0]
    assert found[1]["id"] is None
    assert found[2] == {"id": 3, "error": "range runs downwards; write the lowest written note first"}


def test_blank_lines_get_no_answer() -> None:
    assert len(answered(b"", GOOD, b"   \t\r", b"", GOOD, b"\r")) == 2


def test_the_last_line_may_lack_its_end_and_lines_may_end_as_on_windows() -> None:
    line = json.dumps(GOOD).encode()
    assert answered(line + b"\r") == answered(line) == answered(line + b"\n")


def test_a_byte_order_mark_at_the_beginning_is_passed_over() -> None:
    assert answered(b"\xef\xbb\xbf" + json.dumps(GOOD).encode()) == answered(GOOD)


def test_only_a_line_feed_ends_a_line() -> None:
    strange = json.dumps(GOOD | {"id": "a\u2028b\x85c"}, ensure_ascii=False).encode()
    assert answered(strange)[0]["id"] == "a\u2028b\x85c"


@pytest.mark.parametrize("identity", ["", "Ödön 🎷", "\ud800", 0, -5, 10**30])
def test_the_id_is_echoed(identity: str | int) -> None:
    assert answered(GOOD | {"id": identity})[0]["id"] == identity


def test_an_id_of_very_many_digits_is_echoed_digit_by_digit() -> None:
    digits = b"9" * 6000
    line = json.dumps(GOOD).encode().replace(b'"a"', digits)
    text = next(answers(io.BytesIO(line), histories.standing)).text
    assert text.startswith('{"id": ' + digits.decode() + ', "state"')


@pytest.mark.parametrize("identity", [None, True, 1.5, [1], {"a": 1}])
def test_an_id_of_another_kind_is_refused_and_not_echoed(identity: object) -> None:
    assert answered(GOOD | {"id": identity})[0] == {"id": None, "error": "id must be a text or a whole number"}


def test_a_missing_id_is_said() -> None:
    nameless = {name: value for name, value in GOOD.items() if name != "id"}
    assert answered(nameless)[0] == {"id": None, "error": "id is missing; give a text or a whole number"}


@pytest.mark.parametrize("line", [b"[1]", b"3", b'"text"', b"null", b"true"])
def test_a_line_that_is_no_object_is_refused(line: bytes) -> None:
    (found,) = answered(line)
    assert found["id"] is None
    assert "not an object" in found["error"]


@pytest.mark.parametrize("number", ["NaN", "Infinity", "-Infinity", "1e999", "-1e999"])
def test_what_is_no_number_is_refused_even_in_a_field_nobody_reads(number: str) -> None:
    line = json.dumps(GOOD)[:-1] + f', "colour": [{number}]}}'
    (found,) = answered(line.encode())
    assert found["id"] == "a"
    assert number in found["error"]


def test_invalid_utf_8_is_refused_with_its_place() -> None:
    (found,) = answered(b'{"id": "\xff"}')
    assert found["id"] is None
    assert "UTF-8" in found["error"]
    assert "byte 9" in found["error"]


@pytest.mark.parametrize("depth", [100_000, 5_000_000])
def test_nesting_too_deep_is_refused(depth: int) -> None:
    (found, after) = answered(b'{"id": "a", "deep": ' + b"[" * depth, GOOD)
    assert found["id"] is None
    assert "nested too deep" in found["error"]
    assert after["state"] == "building"


def test_other_unknown_fields_are_ignored() -> None:
    extra = {"name": "somebody", "seed": "not read here", "slots": None, "pins": 3}
    assert answered(GOOD | extra) == answered(GOOD)


# --- long lines --------------------------------------------------------------------------------


def test_a_line_of_exactly_the_longest_length_is_read() -> None:
    line = json.dumps(GOOD).encode()
    padded = line + b" " * (LONGEST_LINE - len(line))
    assert answered(padded, GOOD) == [answered(GOOD)[0]] * 2


def test_a_line_a_byte_longer_is_refused_and_the_next_is_read() -> None:
    line = json.dumps(GOOD).encode()
    (found, after) = answered(line + b" " * (LONGEST_LINE + 1 - len(line)), GOOD)
    assert found["id"] is None
    assert "longer than 16777216 bytes" in found["error"]
    assert after["state"] == "building"


class Endless(io.RawIOBase):
    """One line of 400 MiB and then a good one, made as it is read."""

    def __init__(self) -> None:
        self._left = 400 * 1024 * 1024
        self._tail = b"\n" + json.dumps(GOOD).encode()

    def readable(self) -> bool:
        return True

    def readinto(self, buffer: Any) -> int:
        if self._left:
            size = min(len(buffer), self._left)
            buffer[:size] = b"x" * size
            self._left -= size
            return size
        size = min(len(buffer), len(self._tail))
        buffer[:size], self._tail = self._tail[:size], self._tail[size:]
        return size


def test_a_huge_line_is_passed_over_without_holding_it_in_memory() -> None:
    tracemalloc.start()
    try:
        found = [json.loads(text) for text, _ in answers(io.BufferedReader(Endless()), histories.standing)]
        _, most = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert [("error" in answer) for answer in found] == [True, False]
    assert most < 4 * LONGEST_LINE


def test_each_answer_comes_before_the_next_line_is_read() -> None:
    class Slow(io.BytesIO):
        asked = 0

        def readline(self, size: int | None = -1, /) -> bytes:
            self.asked += 1
            return super().readline(size)

    stream = Slow(b"\n".join([json.dumps(GOOD).encode()] * 3))
    told = answers(stream, histories.standing)
    next(told)
    assert stream.asked == 1
