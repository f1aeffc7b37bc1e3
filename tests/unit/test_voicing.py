"""Who sounds which note of a chord, and whether each horn has it: worked cases on four saxophones."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analysis.core.tables import instrument, parse_note
from assignments.voicing import fits, is_reached, nearest_octave, qualities, voiced

QUARTET = ("soprano", "alto", "tenor", "baritone")


def reach(name: str) -> tuple[int, int]:
    horn = instrument(name)
    return horn.sounding(horn.lowest_written), horn.sounding(horn.highest_written)


def notes(*names: str) -> list[int]:
    return [parse_note(name) for name in names]


def given_out(quality: str, root: str, inversion: int = 0, horns: tuple[str, ...] = QUARTET) -> list[int]:
    return voiced(qualities()[quality], parse_note(root), inversion, [reach(name) for name in horns])


def test_in_a_unison_everybody_sounds_the_same_note():
    assert given_out("unison", "Bb3") == notes("Bb3", "Bb3", "Bb3", "Bb3")


@pytest.mark.parametrize(
    ("quality", "inversion", "expected"),  # soprano, alto, tenor, baritone
    [
        ("major", 0, ("Bb3", "F3", "D3", "Bb2")),
        ("major", 1, ("Bb4", "Bb3", "F3", "D3")),
        ("major", 2, ("Bb4", "D4", "Bb3", "F3")),
        ("minor", 0, ("Bb3", "F3", "Db3", "Bb2")),
        ("dominant_seventh", 0, ("Ab3", "F3", "D3", "Bb2")),
        ("dominant_seventh", 3, ("F4", "D4", "Bb3", "Ab3")),
        ("fifth", 0, ("F4", "Bb3", "F3", "Bb2")),
    ],
)
def test_the_lowest_horn_has_the_bass_and_the_others_follow_upwards(quality, inversion, expected):
    assert given_out(quality, "Bb2", inversion) == notes(*expected)


def test_the_bass_goes_to_the_lowest_horn_wherever_it_sits():
    assert given_out("major", "Bb2", horns=("baritone", "soprano")) == notes("Bb2", "D3")


def test_with_fewer_players_the_fifth_of_a_seventh_chord_is_left_out():
    assert given_out("dominant_seventh", "Bb2", horns=("alto", "tenor", "baritone")) == notes("Ab3", "D3", "Bb2")


def test_a_larger_section_doubles_the_root_first_then_the_others():
    degrees = [(note - parse_note("Bb2")) % 12 for note in given_out("major", "Bb2", horns=(*QUARTET, "alto", "tenor"))]
    assert sorted(degrees) == [0, 0, 4, 4, 7, 7]
    assert [(note - parse_note("Bb2")) % 12 for note in given_out("major", "Bb2", 2)].count(0) == 2


@pytest.mark.parametrize(
    ("note", "horn", "nearest"),
    [("Bb2", "soprano", "Bb3"), ("Bb1", "soprano", "Bb3"), ("C7", "baritone", "C4"), ("G4", "alto", "G4")],
)
def test_the_nearest_octave_is_the_first_that_the_horn_has(note, horn, nearest):
    assert nearest_octave(parse_note(note), reach(horn)) == parse_note(nearest)


@given(st.integers(20, 110), st.sampled_from(QUARTET))
def test_the_nearest_octave_is_the_same_note_and_within_reach(note, horn):
    found = nearest_octave(note, reach(horn))
    assert is_reached(found, reach(horn))
    assert (found - note) % 12 == 0
    assert found == note or not is_reached(found + (12 if note > found else -12), reach(horn))


@given(st.sampled_from(sorted(qualities())), st.integers(40, 70), st.integers(0, 3), st.lists(st.sampled_from(QUARTET)))
def test_every_seat_gets_a_note_of_the_chord(quality, root, inversion, horns):
    asked = qualities()[quality]
    found = voiced(asked, root, inversion, [reach(name) for name in horns])
    assert len(found) == len(horns)
    assert fits(asked, root, found)
