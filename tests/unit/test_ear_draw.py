"""Which kind of tone the ear is played next: shapes oftener than they are played, then what is short of a limit."""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from assignments.ear import LEAST_ACCEPTED
from assignments.ear_draw import AIM, SHAPES_AIM, next_kind, tallies
from assignments.exercises import TONE_WORDS

AS_PLAYED = dict.fromkeys(TONE_WORDS, 40)  # every word as often as every other


def heard(count: int, accept_in_ten: int = 7, waiting: dict[str, int] | None = None, seed: int = 3) -> Counter[str]:
    """So many tones drawn one after another, and of each kind how many there were."""
    left, dice = dict(waiting or AS_PLAYED), Random(seed)
    accepted: Counter[str] = Counter()
    others: Counter[str] = Counter()
    kinds: Counter[str] = Counter()
    of_kind = {"plain": TONE_WORDS[:8], "swells": ("swell", "reverse_swell"), "steps": ("stepped",)}
    for _ in range(count):
        kind = next_kind(tallies(accepted, others, left), dice)
        if kind is None:
            break
        tone = dice.choice([word for word in of_kind[kind] if left.get(word)])
        left[tone] -= 1
        (accepted if dice.randrange(10) < accept_in_ten else others)[tone] += 1
        kinds[kind] += 1
    return kinds


@pytest.mark.parametrize("seed", range(5))
def test_a_hundred_tones_hold_thirty_swells_and_thirty_steps(seed: int) -> None:
    assert heard(AIM, seed=seed) == {"plain": AIM - 2 * SHAPES_AIM, "swells": SHAPES_AIM, "steps": SHAPES_AIM}


def test_the_kinds_come_mixed_so_that_none_gives_itself_away() -> None:
    assert min(heard(30).values()) >= 5


def test_then_what_is_short_of_a_limit_is_asked_for() -> None:
    """At seven in ten accepted, thirty shapes are about twenty-one: nothing but those kinds that still miss some."""
    more = heard(AIM + 40) - heard(AIM)
    assert more["plain"] < more["swells"] + more["steps"]
    assert next_kind(tallies({"stepped": 29, "swell": 40, "mf": 60}, {"stepped": 10}, AS_PLAYED), Random(1)) == "steps"


def test_a_studio_without_shapes_hears_a_hundred_plain_tones() -> None:
    assert heard(500, waiting={"mf": 200}) == {"plain": 200}
    plain, swells, steps = tallies({}, {}, {"mf": 200})
    assert (plain.aim, swells.is_here, steps.is_here) == (AIM, False, False)


def test_few_shapes_are_all_heard_and_plain_tones_fill_up() -> None:
    assert heard(AIM, waiting={**dict.fromkeys(TONE_WORDS[:8], 40), "swell": 8}) == {"plain": 92, "swells": 8}


def test_where_nothing_waits_nothing_comes() -> None:
    assert next_kind(tallies({"mf": 3}, {}, {}), Random(1)) is None


def test_what_is_missing_counts_accepted_tones_alone() -> None:
    plain, *_ = tallies({"mf": 12, "pp": 3}, {"mf": 40}, {})
    assert (plain.answered, plain.accepted, plain.missing) == (55, 15, LEAST_ACCEPTED - 15)
