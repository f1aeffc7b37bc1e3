"""The room's noise in the pauses: when it says that a gain followed the tones, and when it says nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.core import pauses
from analysis.core.bands import EVERY_FRAMES, FIRST_FRAME
from analysis.core.records import Frames
from analysis.core.tones import Found
from tests.unit.made import HOP_S, frames, span, tone

TONES, TONE_S, PAUSE_S = 9, 1.0, 1.2
COLOUR_DB = np.array([-70.0, -76.0, -80.0, -84.0, -87.0, -89.0, -91.0, -93.0])
FOUND = [Found(span(k * (TONE_S + PAUSE_S), k * (TONE_S + PAUSE_S) + TONE_S), 220.0) for k in range(TONES)]
Gain = Callable[[NDArray[np.float64], NDArray[np.int64]], NDArray[np.float64]]  # seconds into the pause, its number


def take(gain_db: Gain, bands: slice = slice(None)) -> Frames:
    """A room whose noise ``gain_db`` moves, in these bands; bright tones between the pauses."""
    plain = frames(TONES * (TONE_S + PAUSE_S))
    at_s = (FIRST_FRAME + EVERY_FRAMES * np.arange(len(plain.bands))) * HOP_S
    since_s = at_s % (TONE_S + PAUSE_S) - TONE_S
    level_db = np.tile(COLOUR_DB, (len(at_s), 1)) + 0.5 * np.random.default_rng(1).standard_normal((len(at_s), 8))
    level_db[:, bands] += gain_db(since_s, (at_s // (TONE_S + PAUSE_S)).astype(int))[:, None]
    level_db[since_s < 0.0] = -30.0
    return replace(plain, bands=(10.0 ** (level_db / 10.0)).astype(np.float32))


def follow(sound: Frames, tones_db: NDArray[np.float64] = np.full(TONES, -20.0)) -> bool:  # noqa: B008 - never changed
    tones = [tone(level_db=float(level_db)) for level_db in tones_db]
    return pauses.follow_tones(pauses.courses_of(sound, FOUND), tones)


def test_noise_that_climbs_back_after_every_tone_follows_them() -> None:
    assert follow(take(lambda since_s, _: 5.0 * np.clip(since_s, 0.0, 1.0)))


def test_noise_that_lies_still_does_not_nor_does_a_tail_that_fades() -> None:
    assert not follow(take(lambda since_s, _: 0.0 * since_s))
    assert not follow(take(lambda since_s, _: 12.0 * np.exp(-since_s / 0.2)))


def test_a_breath_in_every_pause_is_no_gain() -> None:
    """It has a colour of its own."""
    breath = take(lambda since_s, _: 15.0 * np.exp(-np.square((since_s - 0.6) / 0.15)), slice(2, 7))
    assert not follow(breath)


def test_noise_that_wanders_by_itself_rises_as_often_as_it_falls() -> None:
    assert not follow(take(lambda since_s, number: np.where(number % 2, -6.0, 6.0) * np.clip(since_s, 0.0, 1.0)))


def test_a_slow_gain_moves_tones_and_pauses_together() -> None:
    steps_db = np.array([0.0, 3.0, 5.0, 6.0, 8.0, 8.0, 7.0, 10.0, 9.0])
    between_db = (steps_db[1:] + steps_db[:-1]) / 2.0
    slow = take(lambda _, number: between_db[np.minimum(number, TONES - 2)])
    assert follow(slow, -30.0 + steps_db)
    assert not follow(slow)  # the noise alone came nearer
    assert not follow(take(lambda since_s, _: 0.0 * since_s), -30.0 + steps_db)  # the player alone grew louder


def test_one_note_that_the_player_made_louder_hides_no_slow_gain() -> None:
    steps_db = np.array([0.0, 3.0, 5.0, 6.0, 8.0, 8.0, 7.0, 10.0, 9.0])
    between_db = (steps_db[1:] + steps_db[:-1]) / 2.0
    slow = take(lambda _, number: between_db[np.minimum(number, TONES - 2)])
    assert follow(slow, -30.0 + steps_db + 8.0 * (np.arange(TONES) == TONES - 1))


def test_without_pauses_nothing_is_said() -> None:
    slurred = [Found(span(float(k), float(k + 1)), 220.0) for k in range(TONES)]
    assert pauses.courses_of(take(lambda since_s, _: 0.0 * since_s), slurred) == {}
    assert not pauses.follow_tones({}, [])


def test_digital_silence_has_no_level_that_could_rise() -> None:
    silent = take(lambda since_s, _: np.full(len(since_s), -100.0))
    assert pauses.courses_of(silent, FOUND) == {}
