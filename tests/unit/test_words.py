"""Every state and reason of the gate has its words, for both readers."""

from __future__ import annotations

import datetime as dt
import re
from typing import get_args

import pytest

from assignments import gate, words
from tests.unit.test_house import ROOT

START = dt.date(2026, 3, 1)
CODES = set(re.findall(r'"([a-z_]+)"', (ROOT / "assignments" / "gate" / "evaluate.py").read_text())) & set(
    words.table()["reason"]
)


def test_every_state_has_words_for_both_readers() -> None:
    assert set(words.table()["state"]) == set(get_args(gate.State))


def test_every_reason_in_the_table_is_one_the_gate_can_give() -> None:
    assert set(words.table()["reason"]) == CODES


@pytest.mark.parametrize("reader", ["student", "teacher"])
def test_every_sentence_can_be_filled(reader: words.Reader) -> None:
    standing = gate.evaluate([], on=START, lowest_written=58, highest_written=90)
    for kind in ("state", "reason"):
        for code, row in words.table()[kind].items():
            said = words._filled(row[reader], standing, "Marisa")
            assert said, code
            assert "{" not in said, code


def test_a_first_day_is_told_what_is_missing() -> None:
    standing = gate.evaluate([], on=START, lowest_written=58, highest_written=90)
    assert words.headline(standing, "student") == "Laying the ground: 0 of 10 days, 0 of 33 notes."
    assert words.reasons(standing, "student")[0] == "10 more practice days, then the days are counted."


def test_a_pause_says_until_when() -> None:
    paused = gate.Decision(START, "pause", dt.date(2026, 3, 16))
    standing = gate.evaluate([], on=START, lowest_written=58, highest_written=90, decisions=[paused])
    assert words.headline(standing, "student") == "On a pause until 16 March. Nothing counts against you."
