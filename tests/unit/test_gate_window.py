"""The gate: the window, the note rule, the test at the end of a day, and pauses cut out of the calendar."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest

from assignments import gate
from assignments.planner import TONES
from tests.unit.gate_days import hit, miss, stand, unreadable

# --- the window --------------------------------------------------------------------------------


def test_the_window_holds_the_latest_judged_days() -> None:
    assert stand(9, bad=[0, 1], good=[2, 3, 4]).window == (3, 3)


def test_a_day_not_judged_is_not_one_of_the_windows_days() -> None:
    standing = stand(3, tries=[hit(0), hit(1), unreadable(2), miss(3)])
    assert standing.window == (3, 2)


def test_judged_days_further_back_than_the_span_are_not_in_the_window() -> None:
    assert stand(9, good=[0, 9], window_span_days=10).window == (2, 2)
    assert stand(10, good=[0, 10], window_span_days=10).window == (1, 1)


def test_the_span_is_counted_from_the_latest_judged_day_not_from_today() -> None:
    assert stand(200, good=[0, 1, 2]).window == (3, 3)


def test_not_playing_never_changes_the_window() -> None:
    standings = [stand(on, good=[0, 1], bad=[2]) for on in range(2, 400, 7)]
    assert {standing.window for standing in standings} == {(3, 2)}
    assert {standing.state for standing in standings} == {"ready"}


def test_a_day_with_too_little_to_judge_leaves_the_window_where_it_was() -> None:
    tries = [hit(0), hit(0, tone="p"), hit(1), hit(1, tone="p"), hit(60)]
    assert stand(60, tries=tries, minimum_readable=2).window == (2, 2)


def test_paused_days_are_cut_out_of_the_windows_span() -> None:
    assert stand(19, good=[0, 19], said=[(5, "pause", 14)], window_span_days=10).window == (2, 2)
    assert stand(20, good=[0, 20], said=[(5, "pause", 14)], window_span_days=10).window == (1, 1)


# --- the test ----------------------------------------------------------------------------------


def test_the_rule_is_tested_at_the_end_of_a_day_with_a_counted_try() -> None:
    assert stand(1, good=[0, 1]).state == "building"
    assert stand(2, good=[0, 1], bad=[2]).state == "ready"


def test_the_result_stands_until_the_next_test() -> None:
    assert stand(50, good=[0, 1], bad=[2]).state == "ready"
    assert stand(51, good=[0, 1], bad=[2, 51]).state == "building"


def test_a_day_of_unreadable_tries_alone_is_no_test() -> None:
    tries = [hit(0), hit(1), hit(2), unreadable(90)]
    assert stand(90, tries=tries, note_hits=1, note_tries=1, note_fresh_days=30).state == "ready"


def test_a_day_too_small_to_judge_is_still_a_test() -> None:
    tries = [t for n in range(3) for t in (hit(n), hit(n, tone="p"))] + [miss(3)]
    rule: dict[str, Any] = {"minimum_readable": 2, "note_hits": 2, "note_tries": 2, "note_fresh_tries": 0}
    assert stand(2, tries=tries, **rule).notes_short == ()
    assert stand(3, tries=tries, **rule).notes_short == (60,)


def test_a_paused_day_is_no_test() -> None:
    assert stand(2, good=[0, 1, 2], said=[(2, "pause", 2)]).window == (2, 2)
    assert stand(3, good=[0, 1, 2], said=[(2, "pause", 2)]).state == "building"


def test_before_any_test_the_window_is_empty_and_every_note_is_short() -> None:
    standing = stand(5, highest=62, note_hits=1, note_tries=1)
    assert standing.window == (0, 0)
    assert standing.notes_short == (60, 61, 62)


@pytest.mark.parametrize(("good", "met"), [([0, 1, 2], True), ([0, 1], True), ([0], False)])
def test_the_rule_asks_for_enough_days_on_target(good: list[int], met: bool) -> None:
    bad = [n for n in range(3) if n not in good]
    assert (stand(2, good=good, bad=bad).state == "ready") is met


def test_the_rule_asks_for_a_full_window_however_good_its_days() -> None:
    assert stand(1, good=[0, 1], opens_at=2).state == "building"


def test_the_rule_asks_that_no_note_is_short() -> None:
    assert stand(2, good=[0, 1, 2], highest=61, note_hits=1, note_tries=1, note_fresh_tries=0).state == "building"


# --- the note rule -----------------------------------------------------------------------------

THREE_OF_FIVE: dict[str, Any] = {"note_hits": 3, "note_tries": 5, "note_fresh_tries": 0}


@pytest.mark.parametrize(
    ("outcomes", "short"),
    [
        ("hhh", ()),  # three hits in three tries are enough
        ("hh", (60,)),
        ("hmhmh", ()),
        ("hhhmmm", (60,)),  # the first of them is no longer among the last five
        ("mmmmhhh", ()),
        ("hhmmhm", (60,)),
    ],
)
def test_a_note_needs_three_hits_in_its_last_five_tries(outcomes: str, short: tuple[int, ...]) -> None:
    tries = [hit(n) if outcome == "h" else miss(n) for n, outcome in enumerate(outcomes)]
    assert stand(20, tries=tries, **THREE_OF_FIVE).notes_short == short


def test_tries_of_one_day_count_for_their_note_in_the_order_played() -> None:
    tries = [miss(0, tone="p"), hit(0, tone="mf"), hit(0, tone="f")]
    assert stand(0, tries=tries, note_hits=2, note_tries=2, note_fresh_tries=0).notes_short == ()
    assert stand(0, tries=tries[::-1], note_hits=2, note_tries=2, note_fresh_tries=0).notes_short == (60,)


def test_an_unreadable_try_is_none_of_a_notes_last_tries() -> None:
    tries = [hit(0), hit(1), hit(2), unreadable(3), unreadable(4), hit(5, note=61)]
    assert stand(5, tries=tries, highest=61, note_hits=3, note_tries=3, note_fresh_tries=0).notes_short == (61,)


def test_a_retake_is_none_of_a_notes_last_tries() -> None:
    assert stand(0, tries=[miss(0), hit(0)], note_hits=1, note_tries=1, note_fresh_tries=0).notes_short == (60,)


def test_without_a_note_rule_no_note_is_short() -> None:
    assert stand(0, bad=[0], highest=65, note_tries=0).notes_short == ()
    assert stand(0, highest=65, note_tries=0).notes_short == ()


def test_an_excluded_note_is_never_short() -> None:
    rule: dict[str, Any] = {"note_hits": 1, "note_tries": 1, "note_fresh_tries": 0, "highest": 61, "excluded": [61]}
    assert stand(0, good=[0], **rule).notes_short == ()
    assert stand(0, **rule).notes_short == (60,)


FRESH: dict[str, Any] = {"note_hits": 0, "note_tries": 5, "note_fresh_tries": 2, "note_fresh_days": 10}


def test_a_note_needs_enough_tries_in_the_last_days_hit_or_miss() -> None:
    assert stand(3, tries=[miss(0), miss(3)], **FRESH).notes_short == ()
    assert stand(3, tries=[hit(3)], **FRESH).notes_short == (60,)


def test_the_tested_day_is_one_of_the_last_days() -> None:
    assert stand(9, tries=[hit(0), hit(9)], **FRESH).notes_short == ()
    assert stand(10, tries=[hit(0), hit(10)], **FRESH).notes_short == (60,)


def test_paused_days_are_cut_out_of_freshness() -> None:
    assert stand(16, tries=[hit(0), hit(16)], said=[(3, "pause", 9)], **FRESH).notes_short == ()
    assert stand(17, tries=[hit(0), hit(17)], said=[(3, "pause", 9)], **FRESH).notes_short == (60,)


def test_freshness_is_judged_at_the_test_and_does_not_fade_without_playing() -> None:
    assert stand(300, tries=[hit(0), hit(1)], **FRESH).notes_short == ()


def test_tries_before_the_fresh_days_still_count_among_the_last_five() -> None:
    tries = [hit(0), hit(1), hit(50)]
    rule: dict[str, Any] = {"note_hits": 3, "note_tries": 5, "note_fresh_tries": 1, "note_fresh_days": 10}
    assert stand(50, tries=tries, **rule).notes_short == ()


# --- the usual rule, whole ---------------------------------------------------------------------


def usual(bad: int, good: int) -> gate.Standing:
    """Twenty tones a day, walking through 33 notes: some days of misses, then some of 16 hits."""
    tries = [
        gate.Try(
            date(2026, 1, 5) + timedelta(number),
            58 + (number * 20 + slot) % 33,
            TONES[(number * 20 + slot) // 33 % 11],
            "hit" if number >= bad and slot < 16 else "miss",
        )
        for number in range(bad + good)
        for slot in range(20)
    ]
    on = date(2026, 1, 4) + timedelta(bad + good)
    return gate.evaluate(gate.days(tries, 58, 90), on=on, lowest_written=58, highest_written=90)


def test_the_usual_rule_is_met_by_eight_days_of_sixteen_hits_when_no_note_is_short() -> None:
    standing = usual(bad=2, good=8)
    assert standing.window == (10, 8)
    assert standing.reasons == ("waiting_for_teacher",)


def test_seven_days_of_ten_are_one_too_few() -> None:
    assert "days_off_target" in usual(bad=3, good=7).reasons
