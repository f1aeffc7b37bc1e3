"""Histories read strictly: the teacher's decisions, the rule, and what a plan asks for."""

from __future__ import annotations

import pytest

from assignments import histories
from assignments.histories.lines import LongInteger
from tests.unit.history_forms import BAD_DAYS, GOOD, TRY, refusal

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


@pytest.mark.parametrize("value", [day for day in BAD_DAYS if day is not None])
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


def test_a_null_end_or_lane_is_as_if_left_out() -> None:
    opened = {"on": "2026-02-01", "decision": "open"}
    ended = GOOD | {"teacher": [opened | {"until": None}]}
    assert histories.standing(ended) == histories.standing(GOOD | {"teacher": [opened]})
    assert histories.plan(GOOD | {"tries": [TRY | {"lane": None}]}) == histories.plan(GOOD)
