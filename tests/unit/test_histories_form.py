"""Histories read strictly: every field has its kind, and a refusal says where and what would be right."""

from __future__ import annotations

import pytest

from assignments import histories
from tests.unit.history_forms import BAD_DAYS, GOOD, TRY, Ask, a_try, refusal

BOTH = pytest.mark.parametrize("ask", [histories.standing, histories.plan])


@BOTH
def test_the_plain_history_is_read(ask: Ask) -> None:
    assert ask(GOOD)


@BOTH
@pytest.mark.parametrize("name", ["on", "range", "tries"])
def test_a_field_that_must_be_there_is_named_when_it_is_not(ask: Ask, name: str) -> None:
    assert refusal(ask, **{name: ...}).startswith(f"{name} is missing")


@BOTH
@pytest.mark.parametrize("name", ["on", "range", "tries", "excluded"])
@pytest.mark.parametrize("value", [None, True, 3, 2.5, "text", {}])
def test_a_field_of_the_wrong_kind_is_refused_by_name(ask: Ask, name: str, value: object) -> None:
    assert refusal(ask, **{name: value}).startswith(name)


@BOTH
@pytest.mark.parametrize("value", BAD_DAYS)
def test_no_such_day_is_said_wherever_it_stands(ask: Ask, value: object) -> None:
    assert "a day like 2026-03-01" in refusal(ask, on=value)
    assert refusal(ask, tries=a_try(on=value)).startswith("tries[1].on is ")


@BOTH
@pytest.mark.parametrize("value", ["2000-01-01", "2199-12-31", "2028-02-29"])
def test_the_first_and_the_last_day_and_leap_days_are_days(ask: Ask, value: str) -> None:
    assert ask(GOOD | {"on": value, "tries": []})


@BOTH
@pytest.mark.parametrize("value", [-1, 128, 60.0, "60", True, None, 10**40])
def test_a_written_note_is_a_whole_number_up_to_127(ask: Ask, value: object) -> None:
    assert refusal(ask, tries=a_try(written_midi=value)).startswith("tries[1].written_midi is ")
    assert refusal(ask, range=[58, value]).startswith("range[1] is ")
    assert refusal(ask, excluded=[60, value]).startswith("excluded[1] is ")


@BOTH
def test_notes_at_both_ends_are_notes(ask: Ask) -> None:
    assert ask(GOOD | {"range": [0, 127], "excluded": [0, 127, 127]})


@BOTH
@pytest.mark.parametrize("value", [[], [58], [58, 60, 90]])
def test_a_range_has_two_ends(ask: Ask, value: list[int]) -> None:
    assert "must have two" in refusal(ask, range=value)


@BOTH
def test_a_range_runs_upwards(ask: Ask) -> None:
    assert "lowest written note first" in refusal(ask, range=[90, 58])


@BOTH
@pytest.mark.parametrize(("name", "value"), [("tone", "loud"), ("outcome", "Hit"), ("lane", "extra")])
def test_an_unknown_word_is_refused_with_the_known_ones(ask: Ask, name: str, value: object) -> None:
    said = refusal(ask, tries=a_try(**{name: value}))
    assert said.startswith(f"tries[1].{name} is ")
    assert "one of " in said


@BOTH
@pytest.mark.parametrize("name", ["on", "written_midi", "tone", "outcome"])
def test_a_try_lacking_a_field_is_refused_with_its_place(ask: Ask, name: str) -> None:
    assert refusal(ask, tries=a_try(**{name: ...})).startswith(f"tries[1].{name} is missing")


@BOTH
@pytest.mark.parametrize("value", [None, 3, "hit", []])
def test_a_try_is_an_object(ask: Ask, value: object) -> None:
    assert refusal(ask, tries=[TRY, value]).startswith("tries[1] is ")


@BOTH
def test_what_is_dated_later_is_checked_for_form(ask: Ask) -> None:
    later = TRY | {"on": "2027-01-01"}
    assert ask(GOOD | {"tries": [TRY, later]}) == ask(GOOD)
    assert refusal(ask, tries=[TRY, later | {"tone": "loud"}]).startswith("tries[1].tone")


@BOTH
def test_a_try_outside_the_range_is_checked_for_form(ask: Ask) -> None:
    assert refusal(ask, tries=[TRY | {"written_midi": 20, "outcome": "good"}]).startswith("tries[0].outcome")


def test_a_refusal_never_repeats_a_long_value_in_full() -> None:
    assert len(refusal(histories.standing, tries=a_try(tone="x" * 10_000))) < 300
