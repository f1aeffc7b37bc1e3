"""The planner's coverage lane: whose turn it is, and what cannot move it. And the same plan on every machine."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from assignments import planner
from assignments.planner import TONES, NothingToPlanError, Play
from tests.unit.planner_days import LOWEST, Student, cells, day, examples, plan, shuffled_days


def practised(seed: int, days: int = 12, notes: int = 33, slots: int = 20) -> Student:
    """Some days of practice with cut sessions, free playing and unreadable tries."""
    chance = Random(seed)
    student = Student(notes, slots, outcome=lambda cell: chance.choice(["hit", "hit", "miss", "unreadable"]))
    for _ in range(days):
        student.practise(student.plan().tones[: chance.randint(1, slots)])
        student.play_freely((LOWEST + chance.randrange(notes), chance.choice(TONES)))
        student.next_day(skip=chance.randint(0, 3))
    return student


# --- the slots ---------------------------------------------------------------------------------


def test_three_slots_in_five_are_coverage_beginning_with_the_first() -> None:
    assert "".join(planner.lane_of(slot)[0] for slot in range(20)) == "ccfcf" * 4


@pytest.mark.parametrize("slots", [1, 2, 3, 19, 20, 61, 240])
def test_a_plan_has_exactly_its_slots(slots: int) -> None:
    tones = plan(slots=slots).tones
    assert [tone.lane for tone in tones] == [planner.lane_of(slot) for slot in range(slots)]


@pytest.mark.parametrize("slots", [0, -1, 241])
def test_a_day_of_no_slots_or_too_many_is_refused(slots: int) -> None:
    with pytest.raises(ValueError, match="1 to 240"):
        plan(slots=slots)


def test_coverage_says_oldest() -> None:
    assert {tone.why for tone in plan().tones if tone.lane == "coverage"} == {"oldest"}


# --- whose turn --------------------------------------------------------------------------------


@pytest.mark.parametrize(("notes", "step"), [(33, 10), (32, 11), (34, 11), (25, 8), (20, 7), (3, 1), (2, 1), (1, 1)])
def test_the_first_round_walks_the_range_in_steps_of_about_a_third(notes: int, step: int) -> None:
    covered = [note for note, _ in cells(plan(notes=notes, slots=240).tones, "coverage")]
    assert covered[:notes] == [LOWEST + place * step % notes for place in range(notes)]


def test_the_first_day_is_varied() -> None:
    assert len({tone for _, tone in cells(plan().tones, "coverage")}) == 11


@examples(25)
@given(seed=st.integers(0, 2**32), slots=st.sampled_from([7, 20, 40]))
def test_played_one_slot_at_a_time_by_the_rule_coverage_would_be_the_same(seed: int, slots: int) -> None:
    student = practised(seed, notes=21)
    plays = list(student.plays)
    for place, tone in enumerate(plan(plays, student.today, 21, slots).tones):
        if tone.lane == "coverage":
            assert (tone.written_midi, tone.tone) in due(plays), f"slot {place}"
        plays.append(Play(day(student.today), tone.written_midi, tone.tone, "hit", tone.lane))


def due(plays: list[Play]) -> list[tuple[int, str]]:
    """Literally: the note longest uncovered, and of it the tones longest unplayed. Never covered: in strides of 8."""
    covered = {play.written_midi: place for place, play in enumerate(plays) if play.lane == "coverage"}
    played = {(play.written_midi, play.tone): place for place, play in enumerate(plays)}
    stride = [LOWEST + place * 8 % 21 for place in range(21)]
    note = min(stride, key=lambda note: covered.get(note, -1))
    oldest = min(played.get((note, tone), -1) for tone in TONES)
    return [(note, tone) for tone in TONES if played.get((note, tone), -1) == oldest]


def test_a_note_put_back_into_the_range_comes_first() -> None:
    student = Student()
    for _ in range(6):
        student.practise(plan(student.plays, student.today, excluded=[70]).tones)
        student.next_day()
    assert student.plan().tones[0].written_midi == 70


@examples(15)
@given(seed=st.integers(0, 2**32))
def test_outcomes_picks_and_the_seed_do_not_move_coverage(seed: int) -> None:
    student, chance = practised(seed), Random(seed)
    usual = cells(student.plan().tones, "coverage")
    others = [play._replace(outcome=chance.choice(["hit", "miss", "unreadable"])) for play in student.plays]
    pins = [(LOWEST + chance.randrange(33), chance.choice(TONES)) for _ in range(8)]
    assert cells(plan(others, student.today, seed=seed, pins=pins).tones, "coverage") == usual


def test_a_try_without_a_lane_counts_as_focus() -> None:
    free = [Play(day(0), LOWEST + note, tone, "hit") for note in range(33) for tone in TONES[:5]]
    focus = [play._replace(lane="focus") for play in free]
    assert plan(free, 1) == plan(focus, 1)
    assert cells(plan(free, 1).tones, "coverage")[0][0] == LOWEST  # nobody was covered: the first round begins


# --- what is no input --------------------------------------------------------------------------


def test_the_plan_of_a_day_is_the_same_before_during_and_after_it() -> None:
    student = practised(3)
    before = student.plan()
    for cut in (3, 20):
        later = [Play(day(student.today), *cell, "hit", "coverage") for cell in cells(before.tones[:cut])]
        after = [Play(day(student.today + 5), LOWEST, "mf", "miss")]
        assert plan(student.plays + later + after, student.today) == before


@examples(10)
@given(seed=st.integers(0, 2**32))
def test_the_order_of_days_is_no_input(seed: int) -> None:
    student = practised(seed)
    assert plan(shuffled_days(student.plays, Random(seed)), student.today) == plan(student.plays, student.today)


def test_plays_and_picks_outside_the_table_are_passed_over() -> None:
    student = practised(4)
    strange = [Play(day(2), 30, "mf", "hit", "coverage"), Play(day(2), 95, "mf", "miss", "coverage")]
    found = plan(student.plays + strange, student.today, pins=[(30, "mf"), (95, "f")])
    assert found == student.plan()
    soft = plan(student.plays, student.today, tones=["mf", "f"], pins=[(60, "ppp")])
    assert {tone for _, tone in cells(soft.tones)} == {"mf", "f"}


def test_excluded_notes_are_not_planned() -> None:
    assert 60 not in {note for note, _ in cells(plan(slots=60, excluded=[60]).tones)}


@pytest.mark.parametrize("nothing", [{"excluded": range(58, 91)}, {"tones": []}])
def test_nothing_left_to_plan_is_said(nothing: dict[str, object]) -> None:
    with pytest.raises(NothingToPlanError, match="left to plan"):
        plan(**nothing)  # type: ignore[arg-type]


def test_the_order_in_which_tones_are_named_is_no_input() -> None:
    assert plan(tones=["f", "mf", "p"]) == plan(tones=["p", "f", "mf"])


# --- the same on every machine -----------------------------------------------------------------

SCRIPT = """
from tests.unit.test_planner_lanes import practised
student = practised(5)
print(student.plan(pins=[(61, "f"), (90, "ppp")]))
"""


def test_another_process_with_another_hash_seed_makes_the_same_plan() -> None:
    root = Path(__file__).parents[2]
    printed = {
        subprocess.run(
            [sys.executable, "-c", SCRIPT],
            cwd=root,
            env=os.environ | {"PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("0", "1", "4711")
    }
    assert printed == {f"{practised(5).plan(pins=[(61, 'f'), (90, 'ppp')])}\n"}


def test_a_plan_written_down_once_is_still_the_same() -> None:
    student = Student(outcome=lambda cell: "hit" if cell[0] % 3 else "miss")
    student.practise(student.plan().tones)
    student.next_day()
    assert cells(student.plan().tones[:10]) == [
        (79, "f"),
        (89, "mp"),
        (73, "mp"),
        (66, "swell"),
        (80, "mp"),
        (76, "p"),
        (86, "ff"),
        (90, "mp"),
        (63, "stepped"),
        (90, "ff"),
    ]


def test_the_seed_may_be_any_whole_number_and_moves_the_focus() -> None:
    student = practised(6)
    focus = {tuple(cells(plan(student.plays, student.today, seed=seed).tones, "focus")) for seed in (0, -1, 7, 10**50)}
    assert len(focus) == 4
