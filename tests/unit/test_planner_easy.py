"""The planner after a break: an easy day."""

from __future__ import annotations

from itertools import pairwise

import pytest

from assignments.planner import TONES, Play
from tests.unit.planner_days import LOWEST, cells, day, plan

ONCE = [Play(day(0), 60, "mf", "hit", "coverage")]


def test_eight_days_after_the_last_play_the_day_is_easy_and_seven_days_after_it_is_not() -> None:
    assert {tone.why for tone in plan(ONCE, 8).tones} == {"easy"}
    assert "easy" not in {tone.why for tone in plan(ONCE, 7).tones}


def test_who_never_played_starts_with_a_usual_day() -> None:
    assert "easy" not in {tone.why for tone in plan(on=300).tones}


def test_an_unreadable_play_is_a_play() -> None:
    assert "easy" not in {tone.why for tone in plan([*ONCE, Play(day(5), 60, "f", "unreadable")], 8).tones}


@pytest.mark.parametrize(("slots", "length"), [(5, 5), (12, 12), (20, 12), (60, 12)])
def test_an_easy_day_has_twelve_tones_at_most(slots: int, length: int) -> None:
    assert len(plan(ONCE, 30, slots=slots).tones) == length


@pytest.mark.parametrize("notes", [20, 25, 32, 33, 34])
def test_an_easy_day_stays_at_medium_levels_in_the_middle_half_of_the_notes(notes: int) -> None:
    tones = plan(ONCE, 30, notes).tones
    assert {tone.tone for tone in tones} == {"mf", "f"}
    assert all(notes / 4 <= tone.written_midi - LOWEST <= 3 * notes / 4 - 1 for tone in tones)


def test_with_neither_medium_level_set_an_easy_day_takes_what_there_is() -> None:
    tones = plan(ONCE, 30, tones=["mf", "pp"]).tones
    assert {tone.tone for tone in tones} == {"mf"}
    soft = plan([Play(day(0), 60, "pp", "hit")], 30, tones=["p", "pp"]).tones
    assert {tone.tone for tone in soft} == {"p", "pp"}


def test_an_easy_day_has_no_coverage_slot_and_no_picks() -> None:
    tones = plan(ONCE, 30, pins=[(70, "ff")]).tones
    assert {tone.lane for tone in tones} == {"focus"}


@pytest.mark.parametrize("notes", range(1, 35))
def test_an_easy_day_never_asks_the_same_note_twice_running(notes: int) -> None:
    tones = plan([Play(day(0), LOWEST, "mf", "hit")], 30, notes).tones
    assert len(tones) == 12
    together = sum(one.written_midi == other.written_midi for one, other in pairwise(tones))
    assert together == 0 or notes == 1


def test_after_an_easy_day_the_round_goes_on_where_it_was() -> None:
    before = cells(plan(ONCE, 1).tones, "coverage")[0][0]
    easy = [Play(day(30), *cell, "hit", "focus") for cell in cells(plan(ONCE, 30).tones)]
    assert cells(plan(ONCE + easy, 31).tones, "coverage")[0][0] == before


def test_a_play_outside_the_table_ends_no_break() -> None:
    assert plan([*ONCE, Play(day(29), 40, "mf", "hit")], 30) == plan(ONCE, 30)


def test_every_level_is_a_tone_and_so_is_every_shape() -> None:
    assert len(TONES) == 11
