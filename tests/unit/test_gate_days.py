"""The gate: which tries count, which days are judged, and by which rule."""

from __future__ import annotations

from typing import Any

import pytest

from assignments import gate
from assignments.planner import TONES
from tests.unit.gate_days import day, hit, miss, small, stand, unreadable

# --- as of a day -------------------------------------------------------------------------------


def test_the_answer_is_that_of_the_end_of_the_day() -> None:
    standing = stand(2, good=[0, 1, 2], said=[(2, "confirm")])
    assert standing.state == "open"


def test_what_is_dated_later_is_as_if_absent() -> None:
    now = stand(2, good=[0, 1, 2])
    assert stand(2, good=[0, 1, 2, 3], bad=[4], said=[(3, "confirm"), (4, "pause"), (5, "open")]) == now


# --- counted tries -----------------------------------------------------------------------------


def test_a_try_outside_the_range_counts_for_nothing() -> None:
    standing = stand(0, tries=[hit(0), hit(0, note=59), hit(0, note=62)], highest=61)
    assert standing.days == ((day(0), 1, 1, True),)


def test_a_day_with_tries_outside_the_range_alone_is_no_day() -> None:
    assert stand(0, tries=[hit(0, note=70)]).days == ()


def test_a_try_on_a_paused_day_counts_for_nothing() -> None:
    assert stand(0, good=[0], said=[(0, "pause")]).days == ((day(0), 0, 0, None),)


def test_only_the_first_readable_try_of_a_tone_counts_that_day() -> None:
    standing = stand(0, tries=[miss(0), hit(0), hit(0)])
    assert standing.days == ((day(0), 1, 0, False),)


def test_the_same_tone_counts_again_the_next_day() -> None:
    standing = stand(1, tries=[miss(0), hit(1)])
    assert [verdict.hits for verdict in standing.days] == [0, 1]


def test_the_same_note_at_another_level_is_another_tone() -> None:
    assert stand(0, tries=[hit(0, tone="p"), hit(0, tone="f")]).days[0].readable == 2


def test_an_unreadable_try_takes_no_place() -> None:
    assert stand(0, tries=[unreadable(0), hit(0)]).days == ((day(0), 1, 1, True),)


def test_an_unreadable_try_is_neither_hit_nor_miss() -> None:
    tries = [hit(0), hit(0, tone="p"), unreadable(0, tone="f"), unreadable(0, tone="ff")]
    assert stand(0, tries=tries).days == ((day(0), 2, 2, True),)


def test_what_was_played_on_an_excluded_note_still_counts_in_its_day() -> None:
    assert stand(0, tries=[hit(0), hit(0, note=61)], highest=61, excluded=[61]).days[0].readable == 2


# --- days --------------------------------------------------------------------------------------


def test_every_day_with_a_try_in_range_is_listed_oldest_first() -> None:
    standing = stand(9, tries=[hit(7), unreadable(3), hit(5)])
    assert [verdict.on for verdict in standing.days] == [day(3), day(5), day(7)]


def test_days_come_in_any_order() -> None:
    tries = [hit(2), miss(0), hit(1)]
    assert stand(5, tries=tries) == stand(5, tries=sorted(tries))


@pytest.mark.parametrize(("hits", "on_target"), [(15, False), (16, True)])
def test_sixteen_of_twenty_is_on_target_fifteen_is_not(hits: int, on_target: bool) -> None:
    tones = [(note, tone) for note in (60, 61) for tone in TONES[:10]]
    tries = [gate.Try(day(0), *tone, "hit" if place < hits else "miss") for place, tone in enumerate(tones)]
    assert stand(0, tries=tries, highest=61, rules=gate.DEFAULT).days[0].on_target is on_target


def test_seven_of_ten_is_seventy_percent_although_binary_fractions_may_say_a_little_more() -> None:
    tries = [gate.Try(day(0), 60 + n, "mf", "hit" if n < 7 else "miss") for n in range(10)]
    share = 0.1 + 0.2 + 0.4  # 0.7000000000000001
    assert share * 10 > 7
    assert stand(0, tries=tries, highest=69, on_target_share=share).days[0].on_target is True
    assert stand(0, tries=tries, highest=69, on_target_share=0.7001).days[0].on_target is False


def test_a_day_with_fewer_readable_than_the_minimum_is_not_judged() -> None:
    standing = stand(0, tries=[hit(0), hit(0, tone="p")], minimum_readable=3)
    assert standing.days == ((day(0), 2, 2, None),)
    assert stand(0, tries=[hit(0), hit(0, tone="p")], minimum_readable=2).days[0].on_target is True


def test_a_paused_day_is_listed_and_not_judged() -> None:
    assert stand(1, good=[0, 1], said=[(1, "pause")]).days[1] == (day(1), 0, 0, None)


# --- the rule of a day -------------------------------------------------------------------------


def test_a_day_is_judged_by_the_latest_rule_not_after_it() -> None:
    rules = [
        gate.RuleFrom(day(4), small(on_target_share=0.5)),
        gate.RuleFrom(day(2), small(on_target_share=1)),
    ]
    tries = [t for n in range(6) for t in (hit(n), miss(n, tone="p"))]
    standing = stand(5, tries=tries, rules=rules)
    assert [verdict.on_target for verdict in standing.days] == [False, False, False, False, True, True]


def test_before_the_first_rule_the_first_holds() -> None:
    rules = [gate.RuleFrom(day(30), small(minimum_readable=2))]
    assert stand(0, good=[0], rules=rules).days[0].on_target is None


def test_of_two_rules_from_one_day_the_later_word_holds() -> None:
    rules = [gate.RuleFrom(day(0), small(minimum_readable=2)), gate.RuleFrom(day(0), small())]
    assert stand(0, good=[0], rules=rules).days[0].on_target is True


def test_days_keep_the_verdict_of_their_own_rule() -> None:
    rules = [gate.RuleFrom(day(0), small(on_target_share=0.5)), gate.RuleFrom(day(1), small(on_target_share=1))]
    standing = stand(9, tries=[hit(0), miss(0, tone="p")], rules=rules)
    assert standing.days[0].on_target is True


def test_a_changed_rule_speaks_at_the_next_test() -> None:
    easier = [gate.RuleFrom(day(0), small(opens_at=3)), gate.RuleFrom(day(4), small(opens_at=1))]
    assert stand(4, good=[0, 1], bad=[2], rules=easier).state == "building"
    assert stand(5, good=[0, 1], bad=[2, 5], rules=easier).state == "ready"


def test_a_changed_rule_shuts_nothing_before_the_next_test() -> None:
    stricter = [gate.RuleFrom(day(0), small()), gate.RuleFrom(day(4), small(opens_at=3, shuts_at=2))]
    history: dict[str, Any] = {"good": [0, 1], "bad": [2], "said": [(2, "confirm")], "rules": stricter}
    assert stand(9, **history).state == "open"
    assert stand(9, **(history | {"bad": [2, 9]})).state == "shut"


# --- tries folded into days --------------------------------------------------------------------


def test_a_day_kept_as_bytes_gives_the_same_standing() -> None:
    days = gate.days([hit(0), miss(0, note=61), unreadable(1), hit(2, note=99)], 60, 61)
    assert days == [
        gate.Day(day(0), bytes([60 + 128, 61]), True),
        gate.Day(day(1), b"", True),
        gate.Day(day(2), b"", False),
    ]
