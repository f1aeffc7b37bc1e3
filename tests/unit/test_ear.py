"""A teacher's ear against the limits, in worked cases: agreement, the limit that keeps, what it catches, how surely."""

from __future__ import annotations

import pytest

from assignments.ear import LEAST_ACCEPTED, Labelled, agreement, factor_that_keeps, finding, share, together

PITCH = "pitch_cents"


def tones(accepted: list[float], others: list[float] = [], limit: float = 1.0) -> list[Labelled]:  # noqa: B006
    """Tones whose pitch lies at these shares of the table's limit."""
    return [
        Labelled(is_accepted, {PITCH: one}, {PITCH} if one > limit else ())
        for is_accepted, values in ((True, accepted), (False, others))
        for one in values
    ]


@pytest.mark.parametrize(
    ("count", "of", "low", "high"),
    [(81, 263, 0.2553, 0.3662), (15, 148, 0.0624, 0.1605), (0, 20, 0.0, 0.1611), (1, 29, 0.0061, 0.1718)],
)
def test_intervals_are_those_of_newcombe_1998(count: int, of: int, low: float, high: float) -> None:
    """R. G. Newcombe 1998, Statistics in Medicine 17:857, table I, the uncorrected score method (from memory)."""
    found = share(count, of)
    assert (found.low, found.high) == pytest.approx((low, high), abs=1e-4)


def test_of_nothing_everything_is_possible() -> None:
    assert (share(0, 0).low, share(0, 0).high, share(0, 0).share) == (0.0, 1.0, None)


def test_all_of_many_is_still_not_certain() -> None:
    """n of n: the lower end is n / (n + z²), by hand 100 / 103.8415."""
    assert share(100, 100).low == pytest.approx(100 / 103.8415, abs=1e-5)
    assert share(100, 100).high == pytest.approx(1.0)


def test_the_limit_keeps_ninety_seven_of_a_hundred() -> None:
    """Shares 0.01, 0.02 … 1.00: the 97th lies at 0.97."""
    assert factor_that_keeps([n / 100 for n in range(1, 101)]) == 0.97


def test_of_thirty_three_tones_one_may_not_be_lost() -> None:
    """0.97 x 33 is 32.01: all 33 have to stay. Of 34 it is 32.98: one may go."""
    ordered = [0.5] * 32 + [2.0]
    assert factor_that_keeps(ordered) == 2.0
    assert factor_that_keeps([0.5, *ordered]) == 0.5


def test_a_limit_is_rounded_up_so_that_it_keeps_what_it_says() -> None:
    assert factor_that_keeps([0.4111] * 50) == 0.42


def test_no_limit_goes_below_what_a_reading_can_tell() -> None:
    assert factor_that_keeps([0.0] * 50) == 0.25


def test_without_an_accepted_tone_no_limit_is_offered() -> None:
    found = finding(tones([], [0.5, 2.0]), PITCH)
    assert found.factor is None
    assert not found.may_be_adopted
    assert (found.caught.count, found.caught.of) == (0, 2)


def test_what_the_limit_catches_of_the_others_is_counted_with_its_interval() -> None:
    """Accepted to 1.5 times the table; of ten others four lie beyond."""
    found = finding(tones([0.5] * 60 + [1.5] * 40, [1.2] * 6 + [3.0] * 4), PITCH)
    assert found.factor == 1.5
    assert (found.kept.count, found.kept.of) == (100, 100)
    assert (found.caught.count, found.caught.of) == (4, 10)
    assert (found.caught.low, found.caught.high) == pytest.approx((0.1682, 0.6873), abs=1e-4)  # 4 of 10, by hand


def test_agreement_now_counts_both_ways() -> None:
    """Two accepted and met, one accepted and missed, one not yet and missed, one not yet and met: 3 of 5."""
    assert finding(tones([0.5, 0.9, 1.4], [2.0, 0.3]), PITCH).agreed.count == 3


def test_a_tone_in_which_the_target_was_not_measured_says_nothing_of_it() -> None:
    labelled = [*tones([0.5]), Labelled(True, {}), Labelled(False, {"scoop_cents": 3.0}, {"scoop_cents"})]
    assert finding(labelled, PITCH).agreed.of == 1


def test_thirty_accepted_tones_are_needed_before_a_limit_may_be_taken() -> None:
    assert not finding(tones([1.1] * (LEAST_ACCEPTED - 1), [2.0]), PITCH).may_be_adopted
    assert finding(tones([1.1] * LEAST_ACCEPTED, [2.0]), PITCH).may_be_adopted


def test_a_limit_that_limits_nothing_may_not_be_taken() -> None:
    assert not finding(tones([9.0] * 40), PITCH).may_be_adopted


def test_whole_tones_agree_when_nothing_or_something_was_missed() -> None:
    labelled = [*tones([0.5, 2.0], [2.0]), Labelled(False, {PITCH: 0.2}, lost=True), Labelled(True, {}, lost=True)]
    assert (agreement(labelled).count, agreement(labelled).of) == (3, 5)


def test_several_limits_at_once_keep_less_than_each_alone() -> None:
    labelled = [Labelled(True, {"a": float(a), "b": float(b)}) for a, b in ((1, 1), (2, 1), (1, 2), (1, 1))]
    kept, caught = together(labelled, {"a": 1.0, "b": 1.0})
    assert (kept.count, kept.of, caught.of) == (2, 4, 0)


def test_what_has_no_limit_to_move_stays_caught() -> None:
    labelled = [Labelled(False, {"a": 0.1}, lost=True), Labelled(True, {"a": 0.1})]
    kept, caught = together(labelled, {"a": 1.0})
    assert (kept.count, caught.count) == (1, 1)
