"""Players of one unison or chord, each recorded alone, held against each other: what is even, and how surely."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from analysis.core import section
from analysis.core.records import Attack, Colour
from analysis.core.section import Voice, beats_per_s, read
from analysis.core.tables import hz_of_midi, instrument
from analysis.drawing import section as drawn
from analysis.synthesis import Faults, ToneSpec
from tests.unit.made import tone
from tests.unit.test_heard_as_sounded import heard

SOUNDING = 58  # B♭3
CLOCK_CENTS = 1200 * math.log2(1 + 1e-4)


def voice(cents: float = 0.0, sounding_midi: int = SOUNDING, colour_error_pct: float = 5.0, **more) -> Voice:
    f0_hz = hz_of_midi(sounding_midi) * 2 ** (cents / 1200)
    return Voice(sounding_midi, tone(f0_hz=f0_hz, sounding_midi=sounding_midi, **more), colour_error_pct)


def across(measure: str, *voices: Voice | None, a4_hz: float = 440.0):
    return next(one for one in read(voices, a4_hz) if one.measure == measure)


def test_pitch_is_told_from_the_lowest_voice_to_the_highest_and_from_its_middle():
    found = across("pitch", voice(7.0), voice(-3.0), None, voice(-12.0))
    assert [reading and round(reading.value, 6) for reading in found.readings] == [7.0, -3.0, None, -12.0]
    assert (found.lowest, found.highest) == (3, 0)
    assert found.difference == pytest.approx(19.0)
    assert found.middle == pytest.approx(-3.0)
    assert found.verdict == "apart"


def test_each_voice_of_a_chord_is_held_against_its_own_note():
    found = across("pitch", voice(4.0, 58), voice(4.0, 62), voice(4.0, 65))
    assert found.difference == pytest.approx(0.0, abs=1e-9)
    assert found.verdict == "even"


def test_all_are_held_against_one_reference_whatever_their_horns_are_tuned_to():
    found = across("pitch", voice(0.0), voice(5.0), a4_hz=442.0)
    assert found.readings[0].value == pytest.approx(1200 * math.log2(440 / 442))
    assert found.difference == pytest.approx(5.0)


def test_the_error_of_a_pitch_is_its_own_and_its_phones_clock():
    found = across("pitch", voice(uncertainty={"pitch_cents": 0.3}), voice(9.0, uncertainty={"pitch_cents": 0.4}))
    assert found.readings[0].error == pytest.approx(math.hypot(0.3, CLOCK_CENTS), abs=0.005)
    assert found.error == pytest.approx(math.sqrt(0.3**2 + 0.4**2 + 2 * CLOCK_CENTS**2), abs=0.005)


@pytest.mark.parametrize(
    ("cents", "error_cents", "verdict"),
    [(8.0, 0.3, "even"), (12.0, 0.3, "apart"), (9.9, 0.3, "unsure"), (12.0, 3.0, "unsure"), (8.0, 3.0, "unsure")],
)
def test_nearer_to_what_is_heard_than_twice_its_error_is_unsure(cents, error_cents, verdict):
    errors = {"pitch_cents": error_cents}
    assert across("pitch", voice(0.0, uncertainty=errors), voice(cents, uncertainty=errors)).verdict == verdict


def test_who_wavers_and_who_speaks_late_is_told_between_phones():
    calm = voice(pitch_spread_cents=1.0, level_spread_db=0.2)
    shaky = voice(pitch_spread_cents=9.0, level_spread_db=2.0, attack=Attack(rise_s=0.15))
    found = {one.measure: one for one in read([calm, shaky], 440.0)}
    assert {name: found[name].verdict for name in ("pitch_spread", "level_spread", "rise")} == dict.fromkeys(
        ("pitch_spread", "level_spread", "rise"), "apart"
    )
    assert found["rise"].difference == pytest.approx(0.12)
    assert {found[name].highest for name in ("pitch_spread", "level_spread", "rise")} == {1}


def test_loudness_is_compared_nowhere():
    near, far = voice(level_db=-12.0), voice(level_db=-40.0)
    assert {one.verdict for one in read([near, far], 440.0) if one.measure != "colour"} == {"even"}
    assert {one.measure for one in read([near, far], 440.0)} == {*section.READERS}


def test_colour_is_compared_of_one_note_alone_and_with_what_room_and_phone_may_do():
    dull, bright = Colour(centroid_harmonics=2.0), Colour(centroid_harmonics=4.0)
    found = across("colour", voice(colour=dull), voice(colour=bright))
    assert found.difference == pytest.approx(100 * math.log(2))
    assert found.readings[0].error == pytest.approx(math.hypot(5.0, 10.0))
    assert found.verdict == "apart"
    chord = read([voice(0.0, 58, colour=dull), voice(0.0, 62, colour=bright)], 440.0)
    assert "colour" not in {one.measure for one in chord}


def test_what_something_spoilt_is_not_compared():
    hidden = voice(hidden={"pitch_spread_cents": "room_hides_steadiness"})
    assert "pitch_spread" not in {one.measure for one in read([hidden, voice()], 440.0)}
    assert across("pitch_spread", hidden, voice(), voice()).readings[0] is None


@pytest.mark.parametrize("voices", [[], [None, None], [voice(), None]])
def test_one_voice_alone_is_no_section(voices):
    assert read(voices, 440.0) == ()


def test_players_of_one_note_beat_as_often_as_their_frequencies_differ():
    assert beats_per_s(voice(7.0), voice(-12.0)) == pytest.approx(
        hz_of_midi(58) * (2 ** (7 / 1200) - 2 ** (-12 / 1200))
    )
    assert beats_per_s(voice(0.0, 58), voice(0.0, 62)) is None


def test_a_unison_on_four_horns_is_read_as_it_was_sounded():
    """Rendered with known cents: the whole chain, each voice within half a cent of what was put in."""
    sounded = {"soprano": 7.0, "alto": -3.0, "tenor": -12.0, "baritone": 0.0}
    voices = []
    for name, cents in sounded.items():
        spec = ToneSpec(written_midi=instrument(name).written(SOUNDING), seconds=3.0, faults=Faults(cents=cents))
        (found,) = heard([spec], name)[0].tones
        assert found.sounding_midi == SOUNDING
        voices.append(Voice(SOUNDING, found, 5.0))
    found = across("pitch", *voices)
    assert [reading.value for reading in found.readings] == pytest.approx(list(sounded.values()), abs=0.5)
    assert found.verdict == "apart"


def test_the_picture_has_one_scale_for_all_and_keeps_the_furthest_inside():
    rows = drawn([(7.0, 0.2, 0.0), None, (-40.0, 0.5, -13.7)], allowance_cents=5.0)
    near, nobody, far = rows.rows
    assert nobody is None
    assert near.x + near.width / 2 > rows.string_x > far.x
    assert 0.0 < far.x < far.just_x < rows.string_x
    assert near.just_x is None
    middle = lambda row: row.x + row.width / 2 - rows.string_x  # noqa: E731  # said once, beside what it measures
    assert middle(far) / middle(near) == pytest.approx(-40.0 / 7.0, rel=0.01)
    assert rows.shade_width == pytest.approx(2 * 5.0 * middle(near) / 7.0, rel=0.02)


def test_a_bar_reaches_as_far_as_its_reading_may_be_off():
    sure, unsure = drawn([(0.0, 0.1, 0.0), (0.0, 4.0, 0.0)], allowance_cents=5.0).rows
    assert unsure.width > 3 * sure.width


def test_a_voice_keeps_its_own_numbers_whatever_the_others_do():
    one = voice(5.0)
    assert section.pitch(one, 440.0) == across("pitch", one, voice(30.0)).readings[0]
    assert section.pitch(replace(one, colour_error_pct=50.0), 440.0) == section.pitch(one, 440.0)
