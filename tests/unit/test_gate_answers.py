"""The gate: what a teacher's yes and not yet do, and opening without them."""

from __future__ import annotations

from typing import Any

from tests.unit.gate_days import opened_and_shut, stand

MET: dict[str, Any] = {"good": [0, 1], "bad": [2]}  # met at the end of day 2 and, without more playing, ever after

# --- confirm -----------------------------------------------------------------------------------


def test_a_met_rule_waits_for_the_teacher() -> None:
    standing = stand(2, **MET)
    assert (standing.state, standing.reasons) == ("ready", ("waiting_for_teacher",))


def test_a_yes_opens_when_the_rule_was_met_at_the_start_of_its_day() -> None:
    standing = stand(3, good=[0, 1], bad=[2, 3], said=[(3, "confirm")])
    assert standing.window == (3, 1)  # no longer met when the day ends
    assert opened_and_shut(standing) == [(3, None)]


def test_a_yes_opens_when_the_rule_was_met_at_the_end_of_its_day() -> None:
    assert stand(2, **MET, said=[(2, "confirm")]).state == "open"


def test_a_yes_to_a_rule_not_met_does_nothing_then_or_later() -> None:
    assert stand(1, **MET, said=[(1, "confirm")]).state == "building"
    assert stand(9, **MET, said=[(1, "confirm")]).state == "ready"


def test_a_yes_acts_on_a_paused_day() -> None:
    standing = stand(8, **MET, said=[(4, "pause"), (5, "confirm"), (7, "resume")])
    assert opened_and_shut(standing) == [(5, None)]


def test_a_yes_below_a_shut_override_holds_once_that_is_over() -> None:
    said = [(3, "shut", 9), (5, "confirm")]
    assert stand(9, **MET, said=said).state == "shut"
    assert opened_and_shut(stand(12, **MET, said=said)) == [(10, None)]


# --- not yet -----------------------------------------------------------------------------------


def test_a_not_yet_withdraws_the_request_through_its_end() -> None:
    said = [(3, "not_yet", 5)]
    assert (stand(5, **MET, said=said).state, stand(5, **MET, said=said).reasons) == ("building", ("teacher_not_yet",))
    assert stand(6, **MET, said=said).state == "ready"


def test_a_not_yet_without_an_end_lasts_that_day_and_six_more() -> None:
    assert stand(9, **MET, said=[(3, "not_yet")]).state == "building"
    assert stand(10, **MET, said=[(3, "not_yet")]).state == "ready"


def test_a_not_yet_said_before_the_rule_was_met_counts() -> None:
    assert stand(2, **MET, said=[(0, "not_yet")]).reasons == ("teacher_not_yet",)


def test_of_several_answers_in_a_day_the_last_counts() -> None:
    assert stand(3, **MET, said=[(3, "not_yet"), (3, "confirm")]).state == "open"
    assert stand(3, **MET, said=[(3, "confirm"), (3, "not_yet")]).reasons == ("teacher_not_yet",)
    assert stand(4, **MET, said=[(3, "not_yet"), (3, "confirm"), (4, "not_yet")]).state == "open"


def test_a_pause_between_two_answers_of_a_day_is_no_answer() -> None:
    assert stand(3, **MET, said=[(3, "confirm"), (3, "pause"), (3, "resume")]).state == "open"


def test_a_later_not_yet_replaces_an_earlier_one() -> None:
    said = [(3, "not_yet", 30), (4, "not_yet", 5)]
    assert stand(5, **MET, said=said).reasons == ("teacher_not_yet",)
    assert stand(6, **MET, said=said).state == "ready"


def test_a_yes_opens_although_a_not_yet_stands() -> None:
    assert stand(4, **MET, said=[(3, "not_yet", 30), (4, "confirm")]).state == "open"


def test_a_not_yet_shuts_nothing_that_is_open() -> None:
    assert stand(4, **MET, said=[(3, "confirm"), (4, "not_yet")]).state == "open"


# --- without the teacher -----------------------------------------------------------------------


def test_without_confirmation_the_gate_opens_on_the_day_the_rule_is_met() -> None:
    assert opened_and_shut(stand(9, **MET, teacher_confirms=False)) == [(2, None)]


def test_without_confirmation_a_not_yet_keeps_it_shut_as_long_as_it_stands() -> None:
    standing = stand(20, **MET, teacher_confirms=False, said=[(1, "not_yet", 6)])
    assert opened_and_shut(standing) == [(7, None)]


def test_without_confirmation_it_opens_on_an_unpaused_day_only() -> None:
    said = [(1, "not_yet", 4), (4, "pause", 7)]
    assert opened_and_shut(stand(20, **MET, teacher_confirms=False, said=said)) == [(8, None)]


def test_without_confirmation_a_yes_still_opens_what_was_met_when_the_day_began() -> None:
    history: dict[str, Any] = {"good": [0, 1], "bad": [2, 3], "teacher_confirms": False}
    assert opened_and_shut(stand(9, **history, said=[(2, "not_yet", 9)])) == []
    assert opened_and_shut(stand(9, **history, said=[(2, "not_yet", 9), (3, "confirm")])) == [(3, None)]
