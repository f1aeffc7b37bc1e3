"""The room behind the tones, read from how they stop."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.core.records import Vibrato
from analysis.core.room import direct_over_room_db, errors, with_errors
from tests.unit.made import Curve, frames, span, tone

DECAY_DB_PER_S = 60.0 / 0.6


def ringing(over_room_db: float) -> Curve:
    """A tone of two seconds at -20 dB that fades out in 0.06 s; the reverberation in it then falls 60 dB in 0.6 s."""
    room = 1.0 / (1.0 + 10.0 ** (over_room_db / 10.0))

    def level_db(t: np.ndarray) -> np.ndarray:
        direct = (1.0 - room) * np.square(np.clip(1.0 - (t - 2.0) / 0.06, 0.0, 1.0))
        return -20.0 + 10.0 * np.log10(direct + room * 10.0 ** (-np.clip(t - 2.03, 0.0, None) * DECAY_DB_PER_S / 10.0))

    return level_db


@pytest.mark.parametrize(("over_room_db", "within_db"), [(-3.0, 3.0), (0.0, 1.5), (5.0, 1.5), (10.0, 1.5)])
def test_the_reverberation_is_read_back_from_the_tail(over_room_db: float, within_db: float) -> None:
    """Where the room is louder than the instrument the stop is hard to see, and the room looks a little drier."""
    take = frames(seconds=6.0, ends_s=5.5, level_db=ringing(over_room_db))
    assert direct_over_room_db(take, [span(ends_s=3.0)]) == pytest.approx(over_room_db, abs=within_db)


def test_a_tone_that_stops_into_silence_was_played_in_no_room() -> None:
    assert (direct_over_room_db(frames(seconds=6.0), [span()]) or 0.0) > 25.0


def test_slurred_stops_and_cut_recordings_tell_nothing() -> None:
    assert direct_over_room_db(frames(), [span(slurred_out=True)]) is None
    assert direct_over_room_db(frames(seconds=4.2), [span()]) is None
    assert direct_over_room_db(frames(), []) is None


def test_the_rooms_share_is_that_of_the_table_between_its_rows_and_beyond() -> None:
    assert errors(0.0, "mf", 1) == (2.1, 11.0)
    assert errors(3.0, "mf", 1)[0] == pytest.approx((2.1 + 1.4) / 2.0)
    assert errors(16.0, "mf", 1)[0] == pytest.approx(1.0 * 10.0 ** (-6.0 / 20.0))
    assert errors(-10.0, "ff", 1)[0] == 1.3


def test_a_room_widens_the_errors_of_level_and_under_a_vibrato_of_extent_and_pitch() -> None:
    plain = tone(
        vibrato=Vibrato(True, 5.0, 20.0, 0.02, 0.05),
        uncertainty={"level_spread_db": 0.05, "level_drift_db_per_s": 0.02, "extent_cents": 0.4, "pitch_cents": 0.1},
    )
    (far,) = with_errors([plain], 0.0, "mf")
    (dry,) = with_errors([plain], 30.0, "mf")
    assert far.uncertainty["level_spread_db"] > 0.3
    assert far.uncertainty["extent_cents"] > 10.0
    assert far.uncertainty["pitch_cents"] == pytest.approx(0.51, abs=0.01)
    (steady,) = with_errors([replace(plain, vibrato=Vibrato(present=False))], 0.0, "mf")
    assert steady.uncertainty["pitch_cents"] == 0.1
    assert dry.uncertainty == pytest.approx(plain.uncertainty, abs=0.05)
    assert with_errors([plain], None, "mf") == (plain,)
