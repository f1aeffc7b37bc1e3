"""The planner's focus lane: the teacher's picks, tones asked again, the weakest; and an order fit to play."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assignments.planner import TONES, DayPlan, Planned, Play
from tests.unit.planner_days import LOWEST, Cell, Student, cells, day, examples, plan


def by_why(found: DayPlan, why: str) -> list[Cell]:
    return cells([tone for tone in found.tones if tone.why == why])


def any_history(chance: Random, notes: int, tones: Sequence[str], days: int = 8) -> list[Play]:
    """Plays as they come, in either lane: not what the planner would have set, so every state is met."""
    return [
        Play(
            day(number),
            LOWEST + chance.randrange(notes),
            chance.choice(tones),
            chance.choice(["hit", "miss", "unreadable"]),
            chance.choice(["coverage", "coverage", "focus", None]),
        )
        for number in range(days)
        for _ in range(chance.randint(1, 60))
    ]


# --- the teacher's picks -----------------------------------------------------------------------


def test_picks_come_first_in_the_focus_lane() -> None:
    uncovered = [note for note in range(58, 91) if note not in {note for note, _ in cells(plan().tones, "coverage")}]
    pins = [(note, "mf") for note in uncovered[:3]]
    found = plan(pins=pins)
    assert sorted(by_why(found, "teacher")) == pins
    assert [tone.why for tone in found.tones if tone.lane == "focus"][:3] == ["teacher"] * 3


def test_the_longest_unplayed_pick_comes_first_and_the_rest_wait_for_another_day() -> None:
    played = [Play(day(number), 75 + number, "mf", "hit") for number in range(5)]
    pins = [(75 + number, "mf") for number in (3, 0, 4, 1, 2)] + [(80, "mf")]
    found = plan(played, 5, slots=10, pins=pins)  # four focus slots
    covered = cells(found.tones, "coverage")
    wanted = [pin for pin in [(80, "mf"), (75, "mf"), (76, "mf"), (77, "mf"), (78, "mf")] if pin not in covered]
    assert sorted(by_why(found, "teacher")) == sorted(wanted[:4])


def test_a_pick_that_is_already_in_the_days_coverage_is_not_asked_twice() -> None:
    covered = cells(plan().tones, "coverage")
    assert by_why(plan(pins=covered), "teacher") == []


def test_a_pick_that_would_put_the_same_note_twice_running_is_left_for_another_day() -> None:
    tones = plan(slots=3).tones  # coverage, coverage, focus
    beside = (tones[1].written_midi, next(tone for tone in TONES if tone != tones[1].tone))
    assert by_why(plan(slots=3, pins=[beside]), "teacher") == []
    assert by_why(plan(slots=20, pins=[beside]), "teacher") == [beside]  # elsewhere in a longer day it fits


@examples(60)
@given(seed=st.integers(0, 2**32))
def test_every_pick_that_fits_somewhere_is_placed(seed: int) -> None:
    chance = Random(seed)
    history = any_history(chance, 33, TONES)
    pins = list({(LOWEST + chance.randrange(33), chance.choice(TONES)) for _ in range(3)})
    found = plan(history, 8, pins=pins)
    covered = cells(found.tones, "coverage")
    assert sorted(by_why(found, "teacher")) == sorted(pin for pin in pins if pin not in covered)


# --- asked again -------------------------------------------------------------------------------


def unreadable_once(times: int) -> list[Play]:
    """A note well known, of which ``fff`` could not be read the last so many times."""
    known = [Play(day(0), 74, "fff", "hit", "focus")]
    return known + [Play(day(1 + number), 74, "fff", "unreadable", "focus") for number in range(times)]


def test_a_tone_that_could_not_be_read_is_asked_again_once() -> None:
    assert (74, "fff") in by_why(plan(unreadable_once(1), 2), "needs_work")
    again = plan(unreadable_once(1), 2).tones
    assert next(tone for tone in again if tone.lane == "focus") == Planned(74, "fff", "focus", "needs_work")
    everything_else_weak = [Play(day(1), note, tone, "miss") for note in range(58, 91) for tone in TONES if note != 74]
    assert (74, "fff") not in cells(plan(everything_else_weak + unreadable_once(2), 3).tones, "focus")


def test_a_tone_whose_very_first_try_could_not_be_read_is_asked_again() -> None:
    found = plan([Play(day(0), 74, "fff", "unreadable", "focus")], 1).tones
    assert next(tone for tone in found if tone.lane == "focus").written_midi == 74


def test_a_tone_read_since_is_not_asked_again() -> None:
    history = [*unreadable_once(1), *(Play(day(2), 74, "fff", "hit") for _ in range(9))]
    weak = [Play(day(2), note, tone, "miss") for note in range(58, 91) for tone in TONES if note != 74]
    assert (74, "fff") not in cells(plan(weak + history, 3).tones, "focus")


def test_a_pick_comes_before_a_tone_asked_again() -> None:
    found = plan(unreadable_once(1), 2, slots=3, pins=[(80, "mf")])
    assert [tone.why for tone in found.tones if tone.lane == "focus"] == ["teacher"]


# --- the weakest -------------------------------------------------------------------------------


def test_weak_notes_and_weak_levels_come_more_often() -> None:
    weak_notes, weak_tones = {58, 59, 60}, {"ppp"}

    def outcome(cell: Cell) -> str:
        return "miss" if cell[0] in weak_notes or cell[1] in weak_tones else "hit"

    student = Student(outcome=outcome)
    focus: Counter[bool] = Counter()
    for number in range(40):
        planned = student.plan().tones
        if number >= 10:
            focus.update(outcome(cell) == "miss" for cell in cells(planned, "focus"))
        student.practise(planned)
        student.next_day()
    weak_share = (3 * 11 + 30) / 363
    assert focus[True] / focus.total() > 2.5 * weak_share


def test_a_weak_note_that_got_better_is_forgotten() -> None:
    missed = [Play(day(0), 60, tone, "miss") for tone in TONES for _ in range(3)]
    since = [Play(day(1), 60, tone, "hit") for tone in TONES for _ in range(6)]
    others = [Play(day(1), note, tone, "hit") for note in range(61, 91) for tone in TONES]
    middling = [Play(day(1), note, tone, "miss") for note in (58, 59) for tone in TONES]
    seeds = range(40)
    before = sum(note == 60 for s in seeds for note, _ in cells(plan(missed + others, 2, seed=s).tones, "focus"))
    history = missed + since + others + middling
    after = sum(note == 60 for s in seeds for note, _ in cells(plan(history, 2, seed=s).tones, "focus"))
    assert before > 3 * max(1, after)


# --- limits and order --------------------------------------------------------------------------


def assert_well_ordered(found: DayPlan, notes: int) -> None:
    if notes >= 3:
        assert all(one.written_midi != other.written_midi for one, other in pairwise(found.tones))
    for group in ({"ff", "fff"}, {"ppp", "pp"}):
        for place in range(len(found.tones) - 2):
            three = found.tones[place : place + 3]
            assert any(tone.tone not in group or tone.why == "teacher" for tone in three), three


def assert_within_limits(found: DayPlan, slots: int) -> None:
    covered, focus = cells(found.tones, "coverage"), cells(found.tones, "focus")
    assert not set(covered) & set(focus)
    assert len(set(focus)) == len(focus)
    times = Counter(note for note, _ in cells(found.tones))
    own = [tone for tone in found.tones if tone.why == "needs_work"]
    assert all(times[tone.written_midi] <= 3 for tone in own)
    words = Counter(tone.tone for tone in found.tones if tone.lane == "focus")
    assert all(words[tone.tone] <= max(5, slots // 5) for tone in own)


@examples(150)
@given(seed=st.integers(0, 2**32), notes=st.integers(20, 34), slots=st.integers(1, 60), pins=st.integers(0, 5))
def test_limits_and_order_hold_after_any_history(seed: int, notes: int, slots: int, pins: int) -> None:
    chance = Random(seed)
    history = any_history(chance, notes, TONES)
    picks = [(LOWEST + chance.randrange(notes), chance.choice(TONES)) for _ in range(pins)]
    found = plan(history, 8, notes, slots, seed=seed, pins=picks)
    assert_well_ordered(found, notes)
    assert_within_limits(found, slots)


@pytest.mark.parametrize("extreme", [("ppp", "pp"), ("ff", "fff")])
def test_a_day_of_extremes_in_coverage_is_broken_up_by_the_focus_lane(extreme: tuple[str, str]) -> None:
    """Everything else was just played, so all coverage tones are very soft (very loud), and those are weak too."""
    history = [Play(day(0), note, tone, "hit") for note in range(58, 91) for tone in TONES if tone not in extreme]
    weak = [Play(day(0), note, tone, "miss") for note in range(58, 91) for tone in extreme]
    found = plan(weak + history, 1)
    assert {tone for _, tone in cells(found.tones, "coverage")} <= set(extreme)
    assert_well_ordered(found, 33)


def test_twenty_notes_in_a_day_of_sixty_come_three_times_each() -> None:
    for seed in range(5):
        history = any_history(Random(seed), 20, TONES)
        times = Counter(note for note, _ in cells(plan(history, 8, 20, 60, seed=seed).tones))
        assert set(times.values()) == {3}


@examples(80)
@given(seed=st.integers(0, 2**32), notes=st.integers(3, 12), tones=st.integers(1, 11), slots=st.integers(1, 60))
def test_never_the_same_note_twice_running_however_small_the_table(
    seed: int, notes: int, tones: int, slots: int
) -> None:
    chance = Random(seed)
    words = chance.sample(TONES, tones)
    pins = [(LOWEST + chance.randrange(notes), chance.choice(words)) for _ in range(4)]
    found = plan(any_history(chance, notes, words), 8, notes, slots, tones=words, pins=pins)
    assert all(one.written_midi != other.written_midi for one, other in pairwise(found.tones))
    if notes * tones >= slots + 2 * tones:
        assert not set(cells(found.tones, "coverage")) & set(cells(found.tones, "focus"))
        assert len(set(cells(found.tones))) == slots


@pytest.mark.parametrize("notes", [1, 2])
def test_one_note_or_two_are_played_as_often_as_needed(notes: int) -> None:
    assert len(plan(notes=notes, slots=30).tones) == 30


def test_the_longest_day_repeats_no_tone() -> None:
    found = plan(slots=240)
    assert len(set(cells(found.tones))) == 240
    assert max(Counter(note for note, _ in cells(found.tones, "focus")).values()) <= 3


def test_two_of_the_highest_three_notes_do_not_follow_each_other_where_there_is_a_choice() -> None:
    for seed in range(30):
        tones = plan(any_history(Random(seed), 33, TONES), 8, seed=seed).tones
        for one, other in pairwise(tones):
            if "needs_work" in (one.why, other.why):
                assert min(one.written_midi, other.written_midi) < 88


def test_the_day_ends_on_the_likeliest_hit_of_its_weak_tones() -> None:
    history = [Play(day(0), note, tone, "miss" if note < 89 else "hit") for note in range(58, 91) for tone in TONES]
    ends = Counter(plan(history, 1, seed=seed).tones[-1].written_midi >= 89 for seed in range(30))
    inside = Counter(
        note >= 89 for seed in range(30) for note, _ in cells(plan(history, 1, seed=seed).tones[:-1], "focus")
    )
    assert inside[True] <= ends[True]
