"""The gate's operating characteristic: whom does each rule let through, and how soon?

Source of the figures: a simulation made for this project before the gate was written, with 4000 students a cell (house;
tables of rules, of sensitivity, of a learning student and of weak notes). Here the same population is
made anew (gate_students.py) and judged by the very gate. Agreement: 3 percentage points; a median: one day.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache
from typing import Any

import numpy as np
import pytest

from assignments import gate
from tests.reference.gate_students import BASE, NOTES, Population, Setting, as_days, logistic, skill_for
from tests.reference.gate_term import ALONE, NO_NOTE_RULE, POINTS, judged, opened_on_day, students


def expected(cell: str) -> list[float]:
    return [float(part) for part in cell.split("/")]


def shares(everybody: Sequence[Sequence[gate.Day]], rule: gate.Rule, cell: str, *by: int) -> list[float]:
    """Percent of the students through by these practice days. Near 0 and 100 a few hundred of them say enough."""
    certain = all(share <= 2.5 or share >= 97.5 for share in expected(cell))
    through = np.array([opened_on_day(days, rule) for days in everybody[: 400 if certain else None]])
    return [100 * float((through <= day).mean()) for day in by]


# --- rules -------------------------------------------------------------------------------------

P = (0.60, 0.65, 0.70, 0.75, 0.80, 0.85, 0.90, 0.95)
# Percent through within 24 and within 60 practice days, for each p.
TABLE: dict[str, tuple[dict[str, Any], str, int]] = {
    "one day of 90 %": (
        {"window_days": 1, "opens_at": 1, "on_target_share": 0.9, **NO_NOTE_RULE},
        "20/39 35/61 56/82 76/95 92/99 99/100 100/100 100/100",
        2,
    ),
    "3 on target in a row": (
        {"window_days": 3, "opens_at": 3, **NO_NOTE_RULE},
        "3/6 8/17 21/41 44/72 74/94 95/100 100/100 100/100",
        3,
    ),
    "5 in a row": (
        {"window_days": 5, "opens_at": 5, **NO_NOTE_RULE},
        "0/0 0/1 2.5/6 9/19 28/53 64/88 93/100 100/100",
        8,
    ),
    "4 of the last 5": (
        {"window_days": 5, "opens_at": 4, **NO_NOTE_RULE},
        "1/2.5 4/10 15/30 37/63 69/91 94/100 100/100 100/100",
        5,
    ),
    "7 of the last 10": ({"opens_at": 7, **NO_NOTE_RULE}, "0/0 0/1 4/8.5 14/30 43/70 82/97 99/100 100/100", 10),
    "8 of the last 10": ({"opens_at": 8, **NO_NOTE_RULE}, "0/0 0/0 0.9/2.4 5/12 22/44 61/87 94/100 100/100", 10),
    "9 of the last 10": ({"opens_at": 9, **NO_NOTE_RULE}, "0/0 0/0 0.2/0.5 1/3.5 8/19 33/61 79/97 99/100", 12),
    "12 of the last 14": (
        {"window_days": 14, "opens_at": 12, **NO_NOTE_RULE},
        "0/0 0/0 0.1/0.1 0/1 4/11 23/49 71/94 99/100",
        15,
    ),
    "8 of 10 and every note 3 of its last 5": ({}, "0/0 0/0.1 0.8/1.7 3.7/8.9 17/37 54/83 92/99.5 100/100", 10),
    "8 of 10 and every note 2 of its last 4": (
        {"note_hits": 2, "note_tries": 4},
        "0/0 0/0.2 0.9/2.2 4.6/11 20/41 59/85 94/100 100/100",
        10,
    ),
}


@pytest.mark.parametrize("name", TABLE)
def test_each_rule_lets_through_as_many_as_the_table_says(name: str) -> None:
    given, cells, median_day = TABLE[name]
    rule = gate.rule_from(ALONE | given)
    for p, cell in zip(P, cells.split(), strict=True):
        through = shares(students(p), rule, cell, 24, 60)
        assert through == pytest.approx(expected(cell), abs=POINTS), f"p = {p}"
    days = [opened_on_day(days, rule) for days in students(0.90)[:400]]
    assert abs(float(np.median(days)) - median_day) <= 1


@pytest.mark.parametrize(
    ("p", "hit_share", "on_target_share"),
    [(0.70, 0.675, 0.20), (0.80, 0.769, 0.44), (0.85, 0.817, 0.61), (0.90, 0.865, 0.79), (0.95, 0.913, 0.935)],
)
def test_what_the_phone_hears_is_a_little_less_than_what_was_played(
    p: float, hit_share: float, on_target_share: float
) -> None:
    verdicts = [verdict for days in students(p)[:400] for verdict in judged(days, gate.DEFAULT).days]
    judged_days = [verdict for verdict in verdicts if verdict.on_target is not None]
    hits, readable = (sum(column) for column in zip(*((v.hits, v.readable) for v in verdicts), strict=True))
    assert hits / readable == pytest.approx(hit_share, abs=0.012)
    assert sum(bool(v.on_target) for v in judged_days) / len(judged_days) == pytest.approx(on_target_share, abs=0.03)


# --- sensitivity of the usual rule ---------------------------------------------------------------

SENSITIVITY: dict[str, tuple[Setting, int, str]] = {
    "worse phone or room": (BASE.but(hit_scored=0.90, miss_scored=0.15), 20, "0.1/0.3 4.5/12 58/89 94/100"),
    "10 tones a day": (BASE.but(tones=10), 10, "1.5/6.5 20/54 85/99.7 99.5/100"),
    "40 tones a day": (BASE.but(tones=40), 40, "0.2/0.8 16/35 95/99.6 100/100"),
    "moody days": (BASE.but(day_sd=0.9), 20, "2.8/8.1 29/58 91/99.8 99.8/100"),
}


@pytest.mark.parametrize("name", SENSITIVITY)
def test_the_usual_rule_under_other_conditions(name: str) -> None:
    setting, planned, cells = SENSITIVITY[name]
    rule = gate.rule_from(ALONE | {"planned": planned})
    for p, cell in zip((0.70, 0.80, 0.90, 0.95), cells.split(), strict=True):
        through = shares(students(p, setting, count=1000), rule, cell, 24, 60)
        assert through == pytest.approx(expected(cell), abs=POINTS), f"p = {p}"


# --- a student who learns ------------------------------------------------------------------------

LEARNING: dict[str, tuple[dict[str, Any], float, float | None, float, float]] = {
    # rule, true p when let in (mean), its 5th percentile, percent let in below .75, below .80
    "one good day": (TABLE["one day of 90 %"][0], 0.75, 0.59, 47, 70),
    "3 in a row": (TABLE["3 on target in a row"][0], 0.82, 0.70, 15, 34),
    "5 in a row": (TABLE["5 in a row"][0], 0.89, None, 1.4, 5.5),
    "the usual rule": ({}, 0.90, 0.83, 0.4, 2.0),
    "12 of 14": (TABLE["12 of the last 14"][0], 0.93, None, 0, 0.2),
}


@cache
def learners() -> tuple[list[list[gate.Day]], np.ndarray[Any, np.dtype[np.float64]]]:
    """True p grows from .55 to .95 over 60 practice days."""
    p = np.linspace(0.55, 0.95, 60)
    skill = np.array([skill_for(each) for each in p])
    return [as_days(h) for h in Population.of(1000, 0.55, seed=5).play(60, skill - skill[0])], p


@pytest.mark.parametrize("name", LEARNING)
def test_a_learning_student_is_let_in_at_the_skill_the_table_says(name: str) -> None:
    given, mean, low, below_75, below_80 = LEARNING[name]
    everybody, p = learners()
    rule = gate.rule_from(ALONE | given)
    let_in = np.array([p[day - 1] for days in everybody if (day := opened_on_day(days, rule)) <= 60])
    assert let_in.mean() == pytest.approx(mean, abs=0.015)
    assert 100 * (let_in < 0.75).sum() / len(everybody) == pytest.approx(below_75, abs=POINTS)
    assert 100 * (let_in < 0.80).sum() / len(everybody) == pytest.approx(below_80, abs=POINTS)
    if low is not None:
        assert np.percentile(let_in, 5) == pytest.approx(low, abs=0.02)


# --- weak notes in a good player -----------------------------------------------------------------

HOLES = [
    # weak notes, their true rate; percent through within 24 / 40 days: 8 of 10 alone, and with the note rule
    (1, 0.30, "90/97", "64/83"),
    (3, 0.30, "25/36", "6/9"),
    (3, 0.45, "55/70", "32/45"),
]


@pytest.mark.parametrize(("weak", "rate", "days_alone", "with_notes"), HOLES)
def test_the_note_rule_holds_back_a_good_player_with_weak_notes(
    weak: int, rate: float, days_alone: str, with_notes: str
) -> None:
    """The table does not print the rate of the other notes; .92 is what lets 99 % through without a hole in 24 days.
    With that guess the agreement asked for is twice as wide."""
    holed = Population.of(1000, 0.92, seed=11)
    which = np.argsort(holed.chance.random((1000, NOTES)), axis=1)[:, :weak]
    rows = np.arange(1000)[:, None]
    own = holed.effects[rows, which]
    holed.effects[rows, which] = own - own.mean(axis=2, keepdims=True) + np.log(rate / (1 - rate))
    everybody = [as_days(heard) for heard in holed.play(40)]
    for given, cell in ((NO_NOTE_RULE, days_alone), ({}, with_notes)):
        through = shares(everybody, gate.rule_from(ALONE | given), cell, 24, 40)
        assert through == pytest.approx(expected(cell), abs=2 * POINTS)


# --- the population itself -----------------------------------------------------------------------


@pytest.mark.parametrize("p", [0.6, 0.9])
def test_the_population_hits_the_share_it_is_said_to(p: float) -> None:
    many = Population.of(4000, p, seed=1)
    mood = many.chance.normal(0, BASE.day_sd, (4000, 1, 1))
    assert float(logistic(many.effects + mood).mean()) == pytest.approx(p, abs=0.01)
