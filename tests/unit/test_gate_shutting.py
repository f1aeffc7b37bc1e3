"""The gate: slipping, days of grace, a teacher's override, and the spells in which it stood open."""

from __future__ import annotations

from typing import Any

import pytest

from tests.unit.gate_days import opened_and_shut, stand

# Opened on day 2; opens at 2 of 3, slips at 1 of 3.
OPEN: dict[str, Any] = {"good": [0, 1, 2], "said": [(2, "confirm")], "shuts_at": 1}

# --- by the rule -------------------------------------------------------------------------------


def test_the_gate_shuts_when_too_few_of_the_last_days_were_on_target() -> None:
    assert stand(3, **OPEN, bad=[3]).state == "open"
    standing = stand(4, **OPEN, bad=[3, 4])
    assert standing.state == "shut"
    assert opened_and_shut(standing) == [(2, 4)]


def test_days_missing_from_the_window_get_the_benefit_of_the_doubt() -> None:
    rare: dict[str, Any] = {**OPEN, "window_span_days": 3}
    standing = stand(9, **rare, bad=[9])
    assert (standing.window, standing.state) == ((1, 0), "open")
    assert stand(11, **rare, bad=[9, 11]).state == "shut"  # two judged, none on target, one missing


def test_a_rule_that_never_shuts_never_shuts() -> None:
    assert stand(30, **(OPEN | {"shuts_at": None}), bad=range(3, 31)).state == "open"


def test_slipping_is_looked_at_from_the_day_after_the_opening() -> None:
    history: dict[str, Any] = {
        "good": [0, 1],
        "bad": [2, 3],
        "shuts_at": 1,
        "said": [(3, "confirm")],
    }  # met in the morning, slips at night
    assert opened_and_shut(stand(3, **history)) == [(3, None)]
    assert opened_and_shut(stand(4, **history)) == [(3, 4)]


@pytest.mark.parametrize("grace", [0, 1, 3])
def test_it_shuts_after_the_days_of_grace_and_one_more_played_or_not(grace: int) -> None:
    history: dict[str, Any] = {**OPEN, "bad": [3, 4], "grace_days": grace}
    assert stand(4 + grace - 1, **history).state == "open"
    assert opened_and_shut(stand(40, **history)) == [(2, 4 + grace)]


def test_one_day_that_does_not_slip_starts_the_grace_again() -> None:
    history: dict[str, Any] = {
        "good": [0, 1, 2, 5, 6],
        "bad": [3, 4, 7, 8],
        "said": [(2, "confirm")],
        "shuts_at": 1,
        "grace_days": 1,
    }
    assert opened_and_shut(stand(20, **history)) == [(2, 5)]  # day 4 and day 5 slip
    kinder: dict[str, Any] = {**history, "grace_days": 2}
    assert opened_and_shut(stand(20, **kinder)) == [(2, 10)]  # day 6 does not; 8, 9 and 10 do


def test_paused_days_are_cut_out_of_grace() -> None:
    history: dict[str, Any] = {**OPEN, "bad": [3, 4], "grace_days": 2, "said": [(2, "confirm"), (5, "pause", 14)]}
    assert opened_and_shut(stand(40, **history)) == [(2, 16)]


def test_it_reopens_as_it_opened_rule_met_then_confirmed() -> None:
    history: dict[str, Any] = {"good": [0, 1, 2, 5, 6], "bad": [3, 4], "shuts_at": 1}
    assert stand(6, **history, said=[(2, "confirm")]).state == "ready"
    again = stand(7, **history, said=[(2, "confirm"), (7, "confirm")])
    assert opened_and_shut(again) == [(2, 4), (7, None)]


def test_a_yes_while_open_does_not_start_the_grace_again() -> None:
    history: dict[str, Any] = {**OPEN, "bad": [3, 4], "grace_days": 3, "said": [(2, "confirm"), (5, "confirm")]}
    assert opened_and_shut(stand(40, **history)) == [(2, 7)]


def test_shutting_soon_is_said_while_it_slips() -> None:
    history: dict[str, Any] = {**OPEN, "bad": [3, 4], "grace_days": 3}
    assert stand(3, **history).reasons == ()
    assert stand(4, **history).reasons == ("shutting_soon",)


# --- overrides ---------------------------------------------------------------------------------


def test_an_override_stands_above_the_rule_through_its_end() -> None:
    assert [stand(on, said=[(1, "open", 3)]).state for on in range(5)] == ["building", "open", "open", "open", "shut"]


def test_an_override_without_an_end_is_for_good() -> None:
    assert stand(900, said=[(1, "open")]).state == "open"
    assert stand(900, **(OPEN | {"said": [(2, "confirm"), (3, "shut")]})).state == "shut"


def test_an_override_ends_with_the_next_override_and_a_replaced_one_does_not_come_back() -> None:
    said = [(0, "open"), (2, "shut", 3)]
    assert [stand(on, said=said).state for on in range(5)] == ["open", "open", "shut", "shut", "shut"]
    assert stand(4, said=said).reasons == ("too_few_days",)


def test_resume_ends_an_override_from_its_own_day_on() -> None:
    assert opened_and_shut(stand(9, said=[(1, "open"), (4, "resume")])) == [(1, 4)]


def test_a_pause_does_not_end_an_override() -> None:
    assert opened_and_shut(stand(9, said=[(1, "open"), (4, "pause", 6)])) == [(1, None)]


def test_below_an_override_the_rule_runs_on() -> None:
    held_open: dict[str, Any] = {**OPEN, "bad": [3, 4], "said": [(2, "confirm"), (3, "open", 8)]}
    standing = stand(9, **held_open)
    assert (standing.state, opened_and_shut(standing)) == ("shut", [(2, 9)])  # the rule had shut it on day 4


def test_what_the_rule_says_holds_again_after_an_override() -> None:
    held_shut: dict[str, Any] = {**OPEN, "said": [(2, "confirm"), (3, "shut", 5)]}
    assert opened_and_shut(stand(9, **held_shut)) == [(2, 3), (6, None)]


def test_shutting_soon_is_not_said_under_an_override() -> None:
    history: dict[str, Any] = {**OPEN, "bad": [3, 4], "grace_days": 9, "said": [(2, "confirm"), (4, "open")]}
    assert stand(4, **history).reasons == ("teacher_opened",)


def test_the_day_of_a_pause_is_paused_and_the_day_of_resume_is_not() -> None:
    said = [(2, "pause"), (5, "resume")]
    assert [stand(on, said=said).state for on in (1, 2, 4, 5)] == ["building", "paused", "paused", "building"]


def test_a_pause_lasts_through_its_end() -> None:
    assert [stand(on, said=[(2, "pause", 4)]).state for on in (4, 5)] == ["paused", "building"]


def test_a_new_pause_replaces_the_one_before() -> None:
    assert [stand(on, said=[(2, "pause"), (4, "pause", 5)]).state for on in (3, 5, 6)] == [
        "paused",
        "paused",
        "building",
    ]


# --- openings ----------------------------------------------------------------------------------


def test_openings_are_the_spells_in_which_it_stood_open_by_rule_or_override() -> None:
    history: dict[str, Any] = {
        "good": [0, 1, 2],
        "said": [(2, "confirm"), (5, "shut", 6), (9, "open", 11)],
        "shuts_at": None,
    }
    assert opened_and_shut(stand(30, **history)) == [(2, 5), (7, None)]


def test_a_pause_interrupts_no_opening() -> None:
    assert opened_and_shut(stand(9, **(OPEN | {"said": [(2, "confirm"), (4, "pause", 6)]}))) == [(2, None)]


def test_opened_and_shut_are_the_latest_of_each() -> None:
    never = stand(3)
    assert (never.opened_on, never.shut_on) == (None, None)
    twice = stand(9, said=[(0, "open", 1), (5, "open")])
    assert [(d - twice.on).days for d in (twice.opened_on, twice.shut_on) if d] == [-4, -7]


def test_open_and_shut_within_one_day_is_no_opening() -> None:
    assert opened_and_shut(stand(3, said=[(1, "open"), (1, "shut")])) == []
