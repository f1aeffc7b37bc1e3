"""Students made of chance, for the reference simulation of the gate: how they play, and what a phone hears of it.

The model, in logits: a skill common to all, plus an effect of each of 33 notes (SD 0.6), of each of 11 tone words
(SD 0.6) and of the day (SD 0.5, correlated 0.3 with the day before). ``p`` is the share of tones that the whole
population would hit over the long run. Each day brings 12 tones that walk through the notes in turn and 8 on the notes
that have looked weakest so far (a running mean, a quarter of it new with each try). A true hit is scored a hit with
probability 0.96, a true miss with 0.08; 5 % of the tones cannot be read and drop out.

All spreads are assumptions (house); the same ones under which the figures in test_gate_simulation.py were worked out.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from assignments import gate

NOTES, WORDS, LOWEST = 33, 11, 58
FIRST = date(2026, 1, 1)
UNREADABLE = 255
Doubles = NDArray[np.float64]


@dataclass(frozen=True)
class Setting:
    """How a student practises and is heard. The defaults are the base case."""

    tones: int = 20
    hit_scored: float = 0.96
    miss_scored: float = 0.08
    unreadable: float = 0.05
    day_sd: float = 0.5
    day_after_day: float = 0.3
    note_sd: float = 0.6
    word_sd: float = 0.6

    def but(self, **changes: float) -> Setting:
        return replace(self, **changes)  # type: ignore[arg-type]


BASE = Setting()


def logistic(x: Doubles) -> Doubles:
    return np.asarray(1 / (1 + np.exp(-x)))


def skill_for(p: float, setting: Setting = BASE) -> float:
    """The common skill for which the whole population hits a share ``p``: bisection over a Gauss-Hermite mean."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(61)
    spread = np.sqrt(setting.note_sd**2 + setting.word_sd**2 + setting.day_sd**2)
    low, high = -12.0, 12.0
    for _ in range(60):
        middle = (low + high) / 2
        mean = float(logistic(middle + spread * nodes) @ weights / weights.sum())
        low, high = (middle, high) if mean < p else (low, middle)
    return (low + high) / 2


@dataclass
class Population:
    """Many students at once. ``effects``: (students, notes, words), in logits, without the day."""

    effects: Doubles
    setting: Setting
    chance: np.random.Generator

    @classmethod
    def of(cls, students: int, p: float, seed: int, setting: Setting = BASE) -> Population:
        chance = np.random.default_rng(seed)
        notes = chance.normal(0, setting.note_sd, (students, NOTES, 1))
        words = chance.normal(0, setting.word_sd, (students, 1, WORDS))
        return cls(skill_for(p, setting) + notes + words, setting, chance)

    def play(self, days: int, change: Doubles | None = None) -> NDArray[np.uint8]:
        """(students, days, tones) of one byte a tone: its written note, plus 128 if it was scored a hit, 255 if it
        could not be read. ``change``: added to the skill, by day, or by student and day."""
        setting, chance = self.setting, self.chance
        students, tones = len(self.effects), setting.tones
        drift = np.zeros((students, days)) if change is None else np.broadcast_to(change, (students, days))
        covered = tones * 3 // 5
        rows = np.arange(students)[:, None]
        visits = np.argsort(chance.random((students, NOTES, WORDS)), axis=2)  # each note's words in turn
        looks = np.full((students, NOTES), 0.5)
        mood = chance.normal(0, setting.day_sd, students)
        heard = np.empty((students, days, tones), np.uint8)
        for day in range(days):
            fresh = setting.day_sd * np.sqrt(1 - setting.day_after_day**2)
            mood = setting.day_after_day * mood + chance.normal(0, fresh, students)
            turn = day * covered + np.arange(covered)
            notes = np.empty((students, tones), np.int64)
            notes[:, :covered] = turn * 10 % NOTES
            notes[:, covered:] = np.argsort(looks + 1e-9 * chance.random(looks.shape), axis=1)[:, : tones - covered]
            words = chance.integers(0, WORDS, (students, tones))
            words[:, :covered] = visits[rows, notes[:, :covered], turn // NOTES % WORDS]
            order = chance.permuted(np.tile(np.arange(tones), (students, 1)), axis=1)
            notes, words = np.take_along_axis(notes, order, 1), np.take_along_axis(words, order, 1)
            true = logistic(self.effects[rows, notes, words] + mood[:, None] + drift[:, day, None])
            is_hit = chance.random(true.shape) < true
            scored = chance.random(true.shape) < np.where(is_hit, setting.hit_scored, setting.miss_scored)
            read = chance.random(true.shape) >= setting.unreadable
            heard[:, day] = np.where(read, LOWEST + notes + 128 * scored, UNREADABLE)
            for place in range(tones):
                who = np.flatnonzero(read[:, place])
                looks[who, notes[who, place]] += 0.25 * (scored[who, place] - looks[who, notes[who, place]])
        return heard


def as_days(heard: NDArray[np.uint8]) -> list[gate.Day]:
    """One student's (days, tones) as the gate reads them, a practice day a calendar day."""
    return [
        gate.Day(FIRST + timedelta(day), tones.tobytes().translate(None, bytes([UNREADABLE])), True)
        for day, tones in enumerate(heard)
    ]
