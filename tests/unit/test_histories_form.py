"""Histories read strictly: every field has its kind, and a refusal says where and what would be right."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from assignments import histories
from assignments.histories import HistoryError
from assignments.histories.lines import LongInteger

TRY = {"on": "2026-02-01", "written_midi": 60, "tone": "mf", "outcome": "hit"}
GOOD: dict[str, Any] = {"on": "2026-03-01", "range": [58, 90], "tries": [TRY], "slots": 20, "seed": 7}
BOTH = pytest.mark.parametrize("ask", [histories.standing, histories.plan])
Ask = Any


def refusal(ask: Ask, **changes: object) -> str:
    """What a history with these fields is refused with."""
    history = {name: value for name, value in (GOOD | changes).items() if value is not Ellipsis}
    with pytest.raises(HistoryError) as refused:
        ask(history)
    return str(refused.value)


def a_try(**changes: object) -> list[Mapping[str, object]]:
    return [TRY, {name: value for name, value in (TRY | changes).items() if value is not Ellipsis}]


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
@pytest.mark.parametrize(("name", "value"), [("tone", "loud"), ("outcome", "Hit"), ("lane", "extra"), ("lane", None)])
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


# --- the teacher -------------------------------------------------------------------------------


def teacher_refusal(**said: object) -> str:
    return refusal(histories.standing, teacher=[{"on": "2026-02-01", "decision": "pause"} | said])


@pytest.mark.parametrize("value", ["allow", None, 1, "Open"])
def test_an_unknown_decision_is_refused(value: object) -> None:
    assert teacher_refusal(decision=value).startswith("teacher[0].decision is ")


@pytest.mark.parametrize("decision", ["not_yet", "open", "shut", "pause"])
def test_an_end_before_its_own_day_is_refused(decision: str) -> None:
    assert "before its own day" in teacher_refusal(decision=decision, until="2026-01-31")
    said = [{"on": "2026-02-01", "decision": decision, "until": "2026-02-01"}]
    assert histories.standing(GOOD | {"teacher": said})


@pytest.mark.parametrize("decision", ["confirm", "resume"])
def test_an_end_on_a_yes_or_a_resume_is_refused(decision: str) -> None:
    assert "leave it out" in teacher_refusal(decision=decision, until="2026-03-01")


@pytest.mark.parametrize("value", BAD_DAYS)
def test_an_end_is_a_day(value: object) -> None:
    assert teacher_refusal(until=value).startswith("teacher[0].until is ")


def test_a_decision_dated_later_is_checked_for_form() -> None:
    assert teacher_refusal(on="2027-01-01", until="2026-12-31").startswith("teacher[0].until")


@pytest.mark.parametrize("value", [None, {}, "open", 3])
def test_the_teachers_decisions_are_a_list_of_objects(value: object) -> None:
    assert refusal(histories.standing, teacher=value).startswith("teacher is ")
    assert refusal(histories.standing, teacher=[value or 1]).startswith("teacher[0]")


# --- the rule ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rule", "where"),
    [
        ({"opens_at": "8"}, "rule.opens_at"),
        ({"opens_at": True}, "rule.opens_at"),
        ({"opens_at": 8.0}, "rule.opens_at"),
        ({"on_target_share": "0.8"}, "rule.on_target_share"),
        ({"on_target_share": 0}, "rule.on_target_share"),
        ({"teacher_confirms": "yes"}, "rule.teacher_confirms"),
        ({"open_at": 8}, "rule.open_at"),
        ({"shuts_at": 8}, "rule.shuts_at"),
        ({"opens_at": 11}, "rule.opens_at"),
        ({"note_hits": 6}, "rule.note_hits"),
        ({"window_span_days": 9}, "rule.window_span_days"),
        ({"from": "2026-02-30"}, "rule.from"),
        ([{"opens_at": 8}], "rule[0].from is missing"),
        ([{"from": "2026-01-01"}, {"from": "2026-01-01", "opens_at": 0}], "rule[1].opens_at"),
        ([{"from": "2027-01-01", "shuts_at": 9}], "rule[0].shuts_at"),
        ([3], "rule[0] is 3"),
        ("strict", "rule is “strict”"),
        (None, "rule is null"),
    ],
)
def test_a_rule_that_cannot_be_is_refused_with_its_place(rule: object, where: str) -> None:
    assert refusal(histories.standing, rule=rule).startswith(where)


def test_a_rule_is_an_object_or_a_list_of_them() -> None:
    one = histories.standing(GOOD | {"rule": {"minimum_readable": 1}})
    many = histories.standing(GOOD | {"rule": [{"from": "2026-01-01", "minimum_readable": 1}]})
    assert one == many
    assert one["days"][0]["on_target"] is True
    assert (
        histories.standing(GOOD | {"rule": {}}) == histories.standing(GOOD | {"rule": []}) == histories.standing(GOOD)
    )


# --- the plan ----------------------------------------------------------------------------------


@pytest.mark.parametrize("value", [..., None, 0, 241, 20.0, "20", True])
def test_slots_are_a_whole_number_up_to_240(value: object) -> None:
    assert refusal(histories.plan, slots=value).startswith("slots is ")


@pytest.mark.parametrize("value", [..., None, 7.0, "7", True])
def test_a_seed_is_a_whole_number(value: object) -> None:
    assert refusal(histories.plan, seed=value).startswith("seed is ")


def test_a_seed_of_very_many_digits_is_a_seed() -> None:
    one, other = (histories.plan(GOOD | {"tries": [], "seed": LongInteger("1" * 5000 + end)}) for end in "23")
    assert one["bounds"] == other["bounds"]
    assert one["tones"] != other["tones"]


@pytest.mark.parametrize("value", [None, "mf", ["loud"], [3], {}])
def test_tones_are_a_list_of_the_eleven_words(value: object) -> None:
    assert refusal(histories.plan, tones=value).startswith("tones")


@pytest.mark.parametrize(
    ("pins", "where"),
    [
        (None, "pins is null"),
        ([60], "pins[0] is 60"),
        ([{"written_midi": 60}], "pins[0].tone is missing"),
        ([{"tone": "mf"}], "pins[0].written_midi is missing"),
        ([{"written_midi": 300, "tone": "mf"}], "pins[0].written_midi is 300"),
        ([{"written_midi": 60, "tone": "loud"}], "pins[0].tone is “loud”"),
    ],
)
def test_picks_are_objects_with_a_note_and_a_tone(pins: object, where: str) -> None:
    assert refusal(histories.plan, pins=pins).startswith(where)


@pytest.mark.parametrize("nothing", [{"excluded": list(range(58, 91))}, {"tones": []}])
def test_nothing_left_to_plan_is_said(nothing: dict[str, object]) -> None:
    assert "left to plan" in refusal(histories.plan, **nothing)


def test_the_answers_have_every_field_that_was_promised() -> None:
    assert set(histories.standing(GOOD)) >= {
        "state", "days", "window", "notes_short", "openings", "opened_on", "shut_on", "notice", "reasons",
    }  # fmt: skip
    planned = histories.plan(GOOD | {"on": "2026-02-02"})
    assert set(planned["tones"][0]) == {"written_midi", "tone", "lane", "why"}
    assert planned["bounds"] == {"note_days": 3, "tone_days": 31}
    assert planned["oldest"] == {"note_days": 2, "tone_days": 2}
