"""Somebody else in the recording: two SoundFont saxophones, each played by FluidSynth, added up; and one alone.

The truth is the two MIDI files: which horn plays which key when, and by how many dB the second was turned down. How
often one is missed or invented: ``tests.reference.sweeps.another_player``.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.core.records import Measurement
from tests.reference.hearing import PRODUCT_RATE_HZ, hear
from tests.reference.signals import edged, harmonic, reedy, scaled_to, times
from tests.reference.soundfont import RATE_HZ, SOUND_FONTS
from tests.reference.sweeps.another_player import STUDENT, part, together
from tests.reference.sweeps.faults import in_room


def codes(heard: Measurement) -> list[str]:
    return [caution.code for caution in heard.cautions]


@pytest.mark.parametrize("font", SOUND_FONTS)
@pytest.mark.parametrize("other_db", [0, -6, -12, -18])
def test_another_player_is_noticed(font: str, other_db: float) -> None:
    heard = together(font, other_db)
    assert "another_player" in codes(heard)
    assert "another_player" in heard.capture.reasons


@pytest.mark.parametrize("font", SOUND_FONTS)
def test_a_softer_player_spoils_level_and_colour_and_leaves_the_pitch(font: str) -> None:
    heard, alone = together(font, -18), hear(part(font, STUDENT), RATE_HZ)
    (said,) = [caution for caution in heard.cautions if caution.code == "another_player"]
    spoilt = [heard.tones[index] for index in said.indices]
    assert spoilt
    for tone in spoilt:
        assert tone.readable
        assert {"level_db", "colour", "hnr_db", "shape"} <= set(tone.hidden)
        same = min(alone.tones, key=lambda one: abs(one.start_s - tone.start_s))
        assert 1200 * np.log2(tone.f0_hz / same.f0_hz) == pytest.approx(0, abs=1.5)


@pytest.mark.parametrize("font", SOUND_FONTS)
def test_a_player_as_loud_leaves_nothing_to_judge_where_both_sound(font: str) -> None:
    heard = together(font, 0)
    (said,) = [caution for caution in heard.cautions if caution.code == "another_player"]
    assert not any(heard.tones[index].readable for index in said.indices)


def test_the_tail_of_a_slurred_note_under_the_next_is_no_other_player() -> None:
    t_s = times(8, PRODUCT_RATE_HZ)
    f0_hz = 220.0 * 2 ** (np.floor(t_s) * 3 / 12)
    slurred = edged(scaled_to(harmonic(f0_hz, reedy(), 8, PRODUCT_RATE_HZ), -20), PRODUCT_RATE_HZ)
    heard = hear(in_room(np.pad(slurred, 12_000), 0.0, 2), PRODUCT_RATE_HZ)
    assert len(heard.tones) >= 6
    assert "another_player" not in heard.capture.reasons
