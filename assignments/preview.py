"""What a rule would do, told before anybody is bound by it: simulated students, heard by an erring phone and judged
as the gate judges.

A student here has a skill, notes and tone words that are harder or easier than it, and good and bad days. The phone
takes a few hits for misses and a few misses for hits, and cannot read some tones at all. The spreads are assumptions
(house): they let a plain "8 of the last 10 days" through as often as the simulation by which the usual rule was chosen.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from assignments import gate
from assignments.first_openings import NEVER, NOT_READ, first_openings

NOT_READY, READY = 0.70, 0.90  # shares of tones hit: one who should wait, one who should not
TERM_DAYS = 60  # practice days, about eleven weeks
STUDENTS = {NOT_READY: 1600, READY: 500}  # with 20 tones a day; fewer with more, to be as quick

NOTE_SPREAD, WORD_SPREAD, DAY_SPREAD = 0.6, 0.6, 0.5  # standard deviations, in logits
DAY_AFTER_DAY = 0.3  # correlation of one day with the next
HIT_TAKEN_FOR_HIT, MISS_TAKEN_FOR_HIT, UNREADABLE = 0.96, 0.08, 0.05
NEW_SHARE = 0.25  # how much each try moves what a note looks like, and so what the focus lane asks for

_RESTS = frozenset({6, 12, 13})  # days of a fortnight without practice: eleven practice days in two weeks
PRACTISED = [day for day in range(2 * TERM_DAYS) if day % 14 not in _RESTS][:TERM_DAYS]  # day 0 is a Monday


@dataclass(frozen=True, slots=True)
class Preview:
    """What to expect of a rule, as shares from 0 to 1 and practice days."""

    not_ready_through: float  # of students who hit 70 %: let through within a term
    ready_through: float  # the same of students who hit 90 %
    ready_wait_days: int | None  # by then half of those who hit 90 % are through; None: not within a term

    @property
    def not_ready_in_100(self) -> int:
        """Cases in a hundred, rounded."""
        return round(100 * self.not_ready_through)


def preview(rule: gate.Rule, *, notes: int = 33, words: int = 11) -> Preview:
    """Try a rule on students who play ``rule.planned`` tones a day from ``notes`` notes in ``words`` ways.

    A teacher's yes is left out of it: it comes on top. The same rule gives the same answer every time.
    """
    waits = {p: _waits(rule, _heard(p, rule.planned, notes, words), notes) for p in (NOT_READY, READY)}
    half = float(np.median(waits[READY]))
    return Preview(
        not_ready_through=float((waits[NOT_READY] <= TERM_DAYS).mean()),
        ready_through=float((waits[READY] <= TERM_DAYS).mean()),
        ready_wait_days=round(half) if half <= TERM_DAYS else None,
    )


def _waits(rule: gate.Rule, heard: NDArray[np.uint8], notes: int) -> NDArray[np.int64]:
    """For each student the practice day, from 1, on which the rule lets them through; TERM_DAYS + 1: it doesn't."""
    opened = first_openings(rule, heard, PRACTISED, notes)
    return np.where(opened == NEVER, TERM_DAYS, opened) + 1


@lru_cache(maxsize=8)
def _heard(p: float, tones: int, notes: int, words: int) -> NDArray[np.uint8]:
    """What a phone heard of a term: (students, days, tones), one byte a tone as in ``gate.Day``, 255 if unreadable.

    Independent of the rule, so that a second preview of the same practice is quicker.
    """
    chance = np.random.default_rng(round(1000 * p))
    students = STUDENTS[p] * 30 // (10 + max(20, tones))
    who = np.arange(students)
    ease = _skill(p) + chance.normal(0, NOTE_SPREAD, (students, notes, 1))
    ease = ease + chance.normal(0, WORD_SPREAD, (students, 1, words))
    mood = chance.normal(0, DAY_SPREAD, students)
    looks = np.full((students, notes), 0.5)
    heard = np.empty((students, TERM_DAYS, tones), np.uint8)
    for day in range(TERM_DAYS):
        asked = _asked(day, looks, tones, chance)
        strength = ease[who[:, None], asked, chance.integers(0, words, asked.shape)] + mood[:, None]
        hit = chance.random(asked.shape) < 1 / (1 + np.exp(-strength))
        taken = chance.random(asked.shape) < np.where(hit, HIT_TAKEN_FOR_HIT, MISS_TAKEN_FOR_HIT)
        read = chance.random(asked.shape) >= UNREADABLE
        heard[:, day] = np.where(read, asked + gate.HIT * taken, NOT_READ)
        for tone in range(tones):
            note = asked[:, tone]
            seen = looks[who, note]
            looks[who, note] = seen + NEW_SHARE * read[:, tone] * (taken[:, tone] - seen)
        mood = DAY_AFTER_DAY * mood + chance.normal(0, DAY_SPREAD * (1 - DAY_AFTER_DAY**2) ** 0.5, students)
    return heard


def _asked(day: int, looks: NDArray[np.float64], tones: int, chance: np.random.Generator) -> NDArray[np.int64]:
    """The notes of one day: three in five in turn, the others those that look weakest; in any order."""
    students, notes = looks.shape
    in_turn = -(-3 * tones // 5)
    asked = np.empty((students, tones), np.int64)
    asked[:, :in_turn] = (day * in_turn + np.arange(in_turn)) % notes
    weakest = np.argsort(looks + 1e-9 * chance.random(looks.shape), axis=1)
    asked[:, in_turn:] = np.resize(weakest.T, (tones - in_turn, students)).T
    return chance.permuted(asked, axis=1)


def _skill(p: float) -> float:
    """The skill at which the whole population hits a share ``p``: bisection over a Gauss-Hermite mean."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(41)
    spread = (NOTE_SPREAD**2 + WORD_SPREAD**2 + DAY_SPREAD**2) ** 0.5
    low, high = -12.0, 12.0
    for _ in range(50):
        middle = (low + high) / 2
        mean = float(weights @ (1 / (1 + np.exp(-(middle + spread * nodes))))) / float(weights.sum())
        low, high = (middle, high) if mean < p else (low, middle)
    return (low + high) / 2
