"""Somebody else in the recording: two SoundFont saxophones, each played by FluidSynth, added up; and one alone.

The truth is the two MIDI files: which horn plays which key when, and by how many dB the second was turned down.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from analysis.core.records import Measurement
from tests.reference.hearing import PRODUCT_RATE_HZ, hear
from tests.reference.signals import Samples, edged, harmonic, reedy, row_of_tones, scaled_to, times
from tests.reference.soundfont import PROGRAMS, RATE_HZ, SOUND_FONTS, down, played, rendered, up
from tests.reference.sweeps.faults import in_room, moving

STUDENT, OTHER = (60, 65, 70, 75, 80), (67, 62, 77, 71, 74)  # written for alto, a minor third to a tritone apart
TONE_S, PAUSE_S, OTHER_LATER_S = 2.5, 0.7, 0.4


@cache
def part(font: str, written: tuple[int, ...], later_s: float = 0.0) -> Samples:
    events = []
    for place, note in enumerate(written):
        start_s = PAUSE_S + later_s + place * (TONE_S + PAUSE_S)
        events += [down(note, start_s, "alto"), up(note, start_s + TONE_S, "alto")]
    return rendered(font, "alto", events)


@cache
def together(font: str, other_db: float) -> Measurement:
    student, other = part(font, STUDENT), part(font, OTHER, OTHER_LATER_S)
    mixed = np.pad(student, (0, max(0, len(other) - len(student))))
    by = 10 ** (other_db / 20) * np.sqrt(np.mean(student**2) / np.mean(other**2))
    mixed[: len(other)] += by * other
    return hear(mixed, RATE_HZ)


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


@pytest.mark.parametrize("horn", PROGRAMS)
@pytest.mark.parametrize("font", SOUND_FONTS)
@pytest.mark.parametrize("room_db", [None, 8.0, 0.0])
def test_one_horn_is_never_two(font: str, horn: str, room_db: float | None) -> None:
    alone = played(font, horn).samples[::2] if room_db is not None else played(font, horn).samples
    rate_hz = RATE_HZ if room_db is None else PRODUCT_RATE_HZ
    heard = hear(alone if room_db is None else in_room(alone, room_db, 3), rate_hz, instrument=horn)
    assert "another_player" not in (*codes(heard), *heard.capture.reasons)


@pytest.mark.parametrize("room_db", [-3.0, 0.0, 5.0, 10.0])
def test_vibrato_and_scoops_in_a_room_are_one_player(room_db: float) -> None:
    dice = np.random.default_rng(11)
    row, _ = row_of_tones([moving(dice) for _ in range(20)], PRODUCT_RATE_HZ, -90, gap_s=0.5)
    heard = hear(in_room(row, room_db, 1), PRODUCT_RATE_HZ)
    assert heard.tones
    assert "another_player" not in heard.capture.reasons


def test_the_tail_of_a_slurred_note_under_the_next_is_no_other_player() -> None:
    t_s = times(8, PRODUCT_RATE_HZ)
    f0_hz = 220.0 * 2 ** (np.floor(t_s) * 3 / 12)
    slurred = edged(scaled_to(harmonic(f0_hz, reedy(), 8, PRODUCT_RATE_HZ), -20), PRODUCT_RATE_HZ)
    heard = hear(in_room(np.pad(slurred, 12_000), 0.0, 2), PRODUCT_RATE_HZ)
    assert len(heard.tones) >= 6
    assert "another_player" not in heard.capture.reasons
