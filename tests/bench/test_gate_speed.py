"""How quickly the gate, its preview and the planner answer, in seconds of processor time."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import timedelta

from assignments import gate, planner
from assignments.preview import preview
from tests.reference.gate_students import FIRST, Population, as_days


def seconds(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def test_a_year_of_sixty_students_is_judged_in_a_quarter_of_a_second() -> None:
    studio = [as_days(heard) for heard in Population.of(60, 0.85, seed=1).play(365)]
    yes = [gate.Decision(FIRST + timedelta(60 + 40 * n), "confirm") for n in range(7)]

    def judge_all() -> None:
        for days in studio:
            gate.evaluate(days, on=days[-1].on, lowest_written=58, highest_written=90, decisions=yes)

    assert seconds(judge_all) < 0.25


def test_a_year_of_sixty_tones_a_day_is_folded_and_planned_from_in_a_second() -> None:
    plays = [
        planner.Play(FIRST + timedelta(day), 58 + (day + slot) % 33, planner.TONES[slot % 11], "hit")
        for day in range(365)
        for slot in range(60)
    ]
    tries = [gate.Try(play.on, play.written_midi, play.tone, play.outcome) for play in plays]
    assert seconds(lambda: gate.days(tries, 58, 90)) < 0.2
    on = FIRST + timedelta(365)
    assert seconds(lambda: planner.plan(plays, on=on, lowest_written=58, highest_written=90, slots=60, seed=1)) < 0.8


def test_a_rule_is_previewed_in_a_second() -> None:
    assert seconds(lambda: preview(gate.rule_from({"opens_at": 7}))) < 1
