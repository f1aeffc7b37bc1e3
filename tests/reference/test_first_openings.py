"""The first openings that a preview finds for all its students at once, against the gate's own word on each of them."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from assignments import gate
from assignments.first_openings import NEVER, NOT_READ, first_openings
from assignments.preview import PRACTISED, _heard

FIRST = date(2001, 1, 1)


def by_the_gate(rule: gate.Rule, heard: NDArray[np.uint8], on: list[int], notes: int) -> list[int]:
    """The same, told by ``gate.evaluate``, one student after the other."""
    dates = [FIRST + timedelta(day) for day in on]
    found = []
    for student in heard:
        days = [
            gate.Day(day, bytes(byte for byte in tones.tolist() if byte != NOT_READ), True)
            for day, tones in zip(dates, student, strict=True)
        ]
        told = gate.evaluate(days, on=dates[-1], lowest_written=0, highest_written=notes - 1, rules=rule)
        found.append(dates.index(told.openings[0].opened_on) if told.openings else NEVER)
    return found


@pytest.mark.parametrize("p", [0.70, 0.90])
@pytest.mark.parametrize(
    "chosen",
    [
        {},
        {"opens_at": 6, "on_target_share": 0.7},
        {"note_hits": 2, "note_tries": 4, "window_days": 5, "opens_at": 5},
        {"note_tries": 0, "window_days": 14, "opens_at": 10, "minimum_readable": 19},
    ],
)
def test_the_students_of_the_preview_get_through_on_the_gates_days(p: float, chosen: dict[str, Any]) -> None:
    rule = gate.rule_from(chosen | {"teacher_confirms": False, "shuts_at": None})
    heard = _heard(p, 20, 33, 11)[:60]
    assert first_openings(rule, heard, PRACTISED, 33).tolist() == by_the_gate(rule, heard, PRACTISED, 33)


@st.composite
def terms(draw: st.DrawFn) -> tuple[gate.Rule, NDArray[np.uint8], list[int], int]:
    """Any small rule, and a few students who play a few notes on days with gaps between them."""
    notes, tones = draw(st.integers(1, 4)), draw(st.integers(1, 6))
    window, tries = draw(st.integers(1, 5)), draw(st.integers(0, 4))
    rule = gate.Rule(
        on_target_share=draw(st.sampled_from([0.5, 0.7, 0.8])), planned=tones,
        minimum_readable=draw(st.integers(1, tones)), window_days=window,
        window_span_days=draw(st.integers(window, 20)), opens_at=draw(st.integers(1, window)),
        note_hits=draw(st.integers(0, tries)), note_tries=tries, note_fresh_tries=draw(st.integers(0, 3)),
        note_fresh_days=draw(st.integers(0, 15)), teacher_confirms=False, notice_at=None, shuts_at=None,
        grace_days=0, rest_after_days=None, rest_days_on_target=0,
    )  # fmt: skip
    on = sorted(draw(st.sets(st.integers(0, 30), min_size=1, max_size=14)))
    chance = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    shape = (5, len(on), tones)
    played = chance.integers(0, notes, shape) + gate.HIT * (chance.random(shape) < 0.85)
    return rule, np.where(chance.random(shape) < 0.85, played, NOT_READ).astype(np.uint8), on, notes


@given(term=terms())
@settings(max_examples=400, deadline=None)
def test_any_rule_opens_on_the_gates_day(term: tuple[gate.Rule, NDArray[np.uint8], list[int], int]) -> None:
    rule, heard, on, notes = term
    assert first_openings(rule, heard, on, notes).tolist() == by_the_gate(rule, heard, on, notes)
