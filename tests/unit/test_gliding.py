"""A gain that takes seconds: told by what tones do within themselves, beside the noise and beside each other."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from analysis.core import gliding
from analysis.core.levelling import DB_FOR_E
from analysis.core.records import Tone
from tests.unit.made import HOP_S, frames, tone

TONES, TONE_S, PAUSE_S = 16, 2.0, 1.0
STARTS_S = (TONE_S + PAUSE_S) * np.arange(TONES)
SECONDS = TONES * (TONE_S + PAUSE_S)


def gain_db(at_s: NDArray[np.float64] | float) -> NDArray[np.float64]:
    """What a slow control might add: 8 dB up and down again in 40 s."""
    return 4.0 * np.sin(2.0 * np.pi * np.asarray(at_s) / 40.0)


def tones(moved_db: float = 1.0, own_db: NDArray[np.float64] | None = None) -> list[Tone]:
    """``moved_db``: how much of the gain reaches them; ``own_db``: what the player made of each."""
    own_db = np.zeros(TONES) if own_db is None else own_db
    made = []
    for start_s, db in zip(STARTS_S.tolist(), own_db.tolist(), strict=True):
        begin_s, end_s = start_s + 0.2, start_s + TONE_S - 0.1
        drift = float(gain_db(end_s) - gain_db(begin_s)) / (end_s - begin_s) * moved_db
        level_db = -20.0 + db + moved_db * float(gain_db((begin_s + end_s) / 2.0))
        made.append(
            tone(
                start_s=start_s,
                end_s=start_s + TONE_S,
                steady_start_s=begin_s,
                steady_end_s=end_s,
                level_db=level_db,
                level_drift_db_per_s=drift,
            )
        )
    return made


def noise(moved_db: float = 1.0) -> dict[int, NDArray[np.float64]]:
    """The pauses' noise, in looks of 80 ms."""
    return {
        number: -75.0 + moved_db * gain_db(start_s + TONE_S + 0.1 + 0.08 * np.arange(10))
        for number, start_s in enumerate(STARTS_S.tolist()[:-1])
    }


def onward(played: list[Tone], db_for_e: float | None = None) -> bool:
    """``db_for_e``: so many dB make the tones brighter by a factor e; None: their colour stays."""
    take = frames(SECONDS)
    at_s = np.arange(len(take.f0_hz)) * HOP_S
    brighter = np.zeros(len(at_s)) if db_for_e is None else gain_db(at_s) / db_for_e
    # Two partials, the second of which takes what makes the centroid exp(0.2 + brighter).
    centroid = np.exp(0.2 + brighter)
    take.partials[:] = 0.0
    take.partials[:, 0], take.partials[:, 1] = (2.0 - centroid) ** 2, (centroid - 1.0) ** 2
    return gliding.from_tone_to_tone(take, played)


def test_tones_that_rise_and_fall_as_the_noise_beside_them_went_through_one_gain() -> None:
    assert gliding.through_tones(noise(), tones())


def test_one_loud_note_changes_nothing_of_that() -> None:
    assert gliding.through_tones(noise(), tones(own_db=np.where(np.arange(TONES) == 7, 8.0, 0.0)))


def test_noise_that_wanders_by_itself_moves_no_tone() -> None:
    assert not gliding.through_tones(noise(), tones(moved_db=0.0))


def test_noise_that_stays_says_nothing_of_a_player_who_grows_and_shrinks() -> None:
    assert not gliding.through_tones(noise(moved_db=0.2), tones())


def test_noise_heard_in_a_few_pauses_says_nothing() -> None:
    heard = {number: course for number, course in noise().items() if number % 3}
    assert not gliding.through_tones(heard, tones())


def test_steps_that_the_slopes_foretell_are_a_gain_that_glides_on() -> None:
    assert onward(tones())


def test_a_loud_note_and_a_soft_one_hide_no_gain() -> None:
    assert onward(tones(own_db=np.where(np.arange(TONES) == 7, 8.0, 0.0)))


def test_a_player_who_grows_through_a_phrase_grows_brighter() -> None:
    assert not onward(tones(), db_for_e=DB_FOR_E)
    assert not onward(tones(), db_for_e=2.0 * DB_FOR_E)


def test_tones_that_sink_and_begin_anew_are_a_players_own() -> None:
    sinking = [replace(one, level_db=-20.0, level_drift_db_per_s=-0.5 - 0.1 * k) for k, one in enumerate(tones())]
    assert not onward(sinking)


def test_steady_tones_and_a_few_tones_say_nothing() -> None:
    assert not onward(tones(moved_db=0.1))
    assert not onward(tones()[:10])
    assert not onward([])
