"""The gate: rest after a break, early notice, and which state and reasons are told."""

from __future__ import annotations

from typing import Any

from tests.unit.gate_days import hit, stand, unreadable

# Open from day 2 on; a rest after three days without a note, ended by two on-target days.
OPEN: dict[str, Any] = {"said": [(2, "confirm")], "rest_after_days": 3, "rest_days_on_target": 2}

# --- resting -----------------------------------------------------------------------------------


def test_after_so_many_days_without_a_note_the_open_gate_rests() -> None:
    states = [stand(on, **OPEN, good=[0, 1, 2]).state for on in (2, 5, 6)]
    assert states == ["open", "open", "resting"]  # days 3, 4 and 5 lie before day 6


def test_the_rest_ends_with_enough_on_target_days_the_first_day_back_included() -> None:
    played: dict[str, Any] = {"good": [0, 1, 2, 6, 8], "bad": [7]}
    states = [stand(on, **OPEN, **played).state for on in (6, 7, 8)]
    assert states == ["resting", "resting", "open"]


def test_the_rest_says_how_many_days_are_still_asked_for() -> None:
    assert stand(6, **OPEN, good=[0, 1, 2]).rest_days_left == 2
    assert stand(6, **OPEN, good=[0, 1, 2, 6]).rest_days_left == 1


def test_anything_played_breaks_the_break_readable_or_not_in_range_or_not() -> None:
    for other in (unreadable(4), hit(4, note=70)):
        assert stand(6, **OPEN, good=[0, 1, 2], tries=[other]).state == "open"


def test_playing_on_a_paused_day_breaks_the_break_too() -> None:
    said = [(2, "confirm"), (4, "pause", 4)]
    assert stand(6, **(OPEN | {"said": said}), good=[0, 1, 2, 4]).state == "open"


def test_paused_days_without_a_note_are_part_of_the_break() -> None:
    said = [(2, "confirm"), (3, "pause", 5)]
    assert stand(6, **(OPEN | {"said": said}), good=[0, 1, 2]).state == "resting"


def test_a_break_before_anything_was_ever_played_is_none() -> None:
    assert stand(9, **(OPEN | {"said": []}), tries=[], bad=[9]).state == "building"
    assert stand(9, said=[(9, "open")], rest_after_days=3, good=[9]).state == "open"


def test_opening_by_hand_counts_as_playing_that_day_and_ends_a_rest() -> None:
    history: dict[str, Any] = {**OPEN, "good": [0, 1, 2]}
    assert stand(7, **(history | {"said": [(2, "confirm"), (7, "open")]})).state == "open"
    assert stand(10, **(history | {"said": [(2, "confirm"), (7, "open")]})).state == "open"
    assert stand(11, **(history | {"said": [(2, "confirm"), (7, "open")]})).state == "resting"


def test_a_gate_opened_by_hand_before_anything_was_played_rests_too() -> None:
    assert stand(4, said=[(0, "open")], rest_after_days=3).state == "resting"


def test_only_the_latest_break_asks_for_its_days() -> None:
    played: dict[str, Any] = {"good": [0, 1, 2, 6, 7, 11], "bad": []}
    assert stand(11, **OPEN, **played).rest_days_left == 1


def test_a_shut_gate_does_not_rest() -> None:
    assert stand(30, good=[0], rest_after_days=3).state == "building"


def test_resting_is_still_open() -> None:
    standing = stand(6, **OPEN, good=[0, 1, 2])
    assert standing.is_open
    assert standing.openings[-1].shut_on is None
    assert standing.reasons == ("after_break",)


def test_a_rule_that_never_rests_never_rests() -> None:
    assert stand(300, **(OPEN | {"rest_after_days": None}), good=[0, 1, 2]).state == "open"


# --- notice ------------------------------------------------------------------------------------


def test_notice_is_given_while_open_when_few_of_the_last_days_were_on_target() -> None:
    history: dict[str, Any] = {"said": [(2, "confirm")], "good": [0, 1, 2], "bad": [3, 4], "notice_at": 1}
    assert [stand(on, **history).notice for on in (2, 3, 4)] == [False, False, True]
    assert stand(4, **history).reasons == ("slipping",)


def test_missing_days_count_as_on_target_for_notice() -> None:
    history: dict[str, Any] = {"said": [(0, "open")], "bad": [1], "notice_at": 1}
    assert stand(1, **history).notice is False
    assert stand(2, **(history | {"bad": [1, 2]})).notice is True


def test_no_notice_is_given_while_shut_or_paused() -> None:
    assert stand(4, bad=[2, 3, 4], notice_at=3).notice is False
    assert stand(4, bad=[2, 3], said=[(0, "open"), (4, "pause")], notice_at=3).notice is False


def test_notice_off_is_never_given() -> None:
    assert stand(4, bad=[2, 3, 4], said=[(0, "open")], notice_at=None).notice is False


# --- states and reasons ------------------------------------------------------------------------


def test_paused_comes_before_everything() -> None:
    standing = stand(4, said=[(0, "open"), (4, "pause", 9)])
    assert (standing.state, standing.reasons) == ("paused", ("teacher_paused",))
    assert standing.until is not None
    assert (standing.until - standing.on).days == 5


def test_a_shut_override_is_told_as_the_teachers_even_when_the_rule_is_met() -> None:
    standing = stand(3, good=[0, 1, 2], said=[(3, "shut")])
    assert (standing.state, standing.reasons) == ("shut", ("teacher_shut",))


def test_ready_is_told_before_shut() -> None:
    assert stand(6, good=[4, 5, 6], said=[(0, "open", 1)]).state == "ready"


def test_shut_is_a_gate_that_has_been_open_building_one_that_has_not() -> None:
    assert stand(3, said=[(0, "open", 1)]).state == "shut"
    assert stand(3).state == "building"


def test_every_reason_that_applies_is_told_and_no_other() -> None:
    rule: dict[str, Any] = {"note_hits": 1, "note_tries": 1, "note_fresh_tries": 0}
    assert stand(1, bad=[0], **rule).reasons == ("too_few_days", "notes_short")
    assert stand(3, bad=[0, 1, 2], **rule).reasons == ("days_off_target", "notes_short")
    assert stand(3, good=[2], bad=[0, 1]).reasons == ("days_off_target",)
    assert stand(3, good=[0, 1, 2], highest=61, **rule).reasons == ("notes_short",)


def test_an_open_gate_tells_the_teachers_word_the_break_and_the_slip_together() -> None:
    standing = stand(9, bad=[1, 2, 3], said=[(0, "open")], notice_at=1, rest_after_days=3)
    assert (standing.state, standing.reasons) == ("resting", ("teacher_opened", "after_break", "slipping"))


def test_an_open_gate_with_nothing_to_say_has_no_reasons() -> None:
    assert stand(2, good=[0, 1, 2], said=[(2, "confirm")]).reasons == ()
