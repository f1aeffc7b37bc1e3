"""Notes and horns: names as players say them, read in any spelling; ranges and transpositions from one table."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest

from analysis.core import tables
from analysis.core.tables import hz_of_midi, instrument, instruments, note_name, note_sign, parse_note

ROWS = tomllib.loads((Path(tables.__file__).parent / "data" / "instruments.toml").read_text())


def test_the_octave_is_spelt_as_players_say_it() -> None:
    assert [note_sign(midi) for midi in range(58, 70)] == [
        *("B♭3", "B3", "C4", "C♯4", "D4", "E♭4", "E4", "F4", "F♯4", "G4", "G♯4", "A4")
    ]


@pytest.mark.parametrize("midi", range(0, 128))
def test_every_note_reads_back_from_both_its_names(midi: int) -> None:
    assert parse_note(note_name(midi)) == midi
    assert parse_note(note_sign(midi)) == midi
    assert note_name(midi).isascii()


@pytest.mark.parametrize(
    ("text", "midi"),
    [
        ("A#3", 58),
        ("Cb4", 59),
        ("B#3", 60),
        ("E#4", 65),
        ("fb4", 64),
        (" g#5 ", 80),
        ("D♭4", 61),
        ("Fx4", 67),
        ("Ebb4", 62),
    ],
)
def test_enharmonic_spellings_are_the_same_note(text: str, midi: int) -> None:
    assert parse_note(text) == midi


@pytest.mark.parametrize("text", ["", "H3", "Bb", "3", "B-flat 3", "C#-1#", "Bb3Bb3", "G9x", "C-2", "A99", "C4\n\nD4"])
def test_what_is_no_note_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match=r"not a note|outside every instrument"):
        parse_note(text)


def test_a_strange_instrument_is_answered_with_those_that_exist() -> None:
    with pytest.raises(KeyError, match="alto"):
        instrument("kazoo")


def test_ranges_are_those_of_real_horns() -> None:
    counts = {name: horn.highest_written - horn.lowest_written + 1 for name, horn in instruments().items()}
    assert counts == dict.fromkeys(["sopranino", "soprano", "alto", "tenor", "baritone", "bass"], 33)
    options = {
        (name, option): high - low + 1 for name, horn in instruments().items() for option, low, high in horn.options
    }
    assert options["alto", "without the F♯ key"] == 32
    assert options["baritone", "with the low A key"] == 34
    assert options["soprano", "with the high G key"] == 34


def test_written_and_sounding_notes_lead_to_each_other() -> None:
    for horn in instruments().values():
        assert horn.written(horn.sounding(73)) == 73
        assert hz_of_midi(horn.lowest_sounding) > 50.0


def test_the_window_holds_four_bins_between_the_partials_of_the_lowest_note() -> None:
    for horn in instruments().values():
        assert hz_of_midi(horn.lowest_sounding) / (24_000 / horn.window_samples) >= 4.0


def test_every_row_of_the_table_says_where_it_comes_from() -> None:
    for row in ROWS.values():
        assert row["source"]
        assert row["where"]
        assert row["kind"] in ("published", "standard", "common_practice", "house")
        assert row["kind"] != "house" or row["why"]
