"""The preview of a rule that a teacher sees, against the tables by which the usual rule was chosen.

Source of the figures: as in test_gate_simulation.py (house). The preview has its own students; the rule is the gate's.
Agreement: 3 percentage points; a median: one day.
"""

from __future__ import annotations

import pytest

from assignments import gate
from assignments.preview import Preview, preview
from tests.reference.gate_term import POINTS
from tests.reference.test_gate_simulation import SENSITIVITY, TABLE, P

NOT_READY, READY = P.index(0.70), P.index(0.90)


def within_a_term(cells: str, place: int) -> float:
    return float(cells.split()[place].split("/")[1])


@pytest.mark.parametrize("name", TABLE)
def test_the_preview_says_what_the_table_says(name: str) -> None:
    given, cells, median_day = TABLE[name]
    found = preview(gate.rule_from({"shuts_at": None} | given))
    assert 100 * found.not_ready_through == pytest.approx(within_a_term(cells, NOT_READY), abs=POINTS)
    assert 100 * found.ready_through == pytest.approx(within_a_term(cells, READY), abs=POINTS)
    assert found.ready_wait_days is not None
    assert abs(found.ready_wait_days - median_day) <= 1


@pytest.mark.parametrize("planned", [10, 40])
def test_the_preview_knows_how_many_tones_are_planned(planned: int) -> None:
    cells = SENSITIVITY[f"{planned} tones a day"][2]
    found = preview(gate.rule_from({"planned": planned}))
    assert 100 * found.not_ready_through == pytest.approx(within_a_term(cells, 0), abs=POINTS)
    assert 100 * found.ready_through == pytest.approx(within_a_term(cells, 2), abs=POINTS)


def test_the_usual_rule_lets_two_in_a_hundred_through_too_early() -> None:
    assert preview(gate.DEFAULT).not_ready_in_100 == 2


def test_the_teachers_yes_and_shutting_are_no_part_of_it() -> None:
    usual = preview(gate.DEFAULT)
    assert preview(gate.rule_from({"teacher_confirms": False, "shuts_at": 3, "rest_after_days": 1})) == usual


def test_a_rule_that_nobody_can_meet_says_so() -> None:
    assert preview(gate.rule_from({"minimum_readable": 21})) == Preview(0.0, 0.0, None)


@pytest.mark.parametrize(("notes", "words"), [(1, 1), (5, 11), (34, 3)])
def test_other_ranges_and_fewer_tone_words_can_be_previewed(notes: int, words: int) -> None:
    found = preview(gate.DEFAULT, notes=notes, words=words)
    assert 0 <= found.not_ready_through <= found.ready_through <= 1
