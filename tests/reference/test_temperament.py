"""Notes, transpositions and cents against music21, the MIDI tuning formula and printed values.

Sources: music21 10.5 (pitch and instrument classes); ISO 16:1975, A4 = 440 Hz (from memory); MIDI Tuning Standard
(f = 440 * 2 ** ((m - 69) / 12)); transpositions of sopranino and bass, and the written range, are common practice.
"""

from __future__ import annotations

import math

import librosa
import numpy as np
import pytest
from music21 import instrument as m21_instrument
from music21 import interval as m21_interval
from music21 import pitch as m21_pitch

from analysis.core.just import just_cents
from analysis.core.tables import hz_of_midi, instrument, instruments, note_name, parse_note
from analysis.core.units import cents_between, hz_shifted, midi_of_hz

HORNS = {
    "soprano": m21_instrument.SopranoSaxophone,
    "alto": m21_instrument.AltoSaxophone,
    "tenor": m21_instrument.TenorSaxophone,
    "baritone": m21_instrument.BaritoneSaxophone,
}
# Sounding frequency (A4 = 440 Hz) of written B♭3 and F♯6: common practice transpositions, equal temperament.
ENDS_HZ = {
    "sopranino": (277.183, 1760.000),
    "soprano": (207.652, 1318.510),
    "alto": (138.591, 880.000),
    "tenor": (103.826, 659.255),
    "baritone": (69.296, 440.000),
    "bass": (51.913, 329.628),
}


def of_music21(midi: int) -> m21_pitch.Pitch:
    pitch = m21_pitch.Pitch()
    pitch.midi = midi
    return pitch


def test_every_note_of_the_piano_has_the_frequency_that_music21_gives_it():
    for midi in range(21, 109):
        assert hz_of_midi(midi) == pytest.approx(of_music21(midi).frequency, rel=1e-12)


def test_every_frequency_has_the_midi_number_that_librosa_gives_it():
    f_hz = np.geomspace(40.0, 4000.0, 500)
    assert midi_of_hz(f_hz) == pytest.approx(librosa.hz_to_midi(f_hz), abs=1e-9)
    assert midi_of_hz(442.0, a4_hz=442.0) == 69.0


def test_a_semitone_is_the_twelfth_root_of_two_and_an_octave_doubles():
    for midi in range(30, 100):
        assert hz_of_midi(midi + 1) / hz_of_midi(midi) == pytest.approx(2 ** (1 / 12), rel=1e-12)
        assert hz_of_midi(midi + 12) == pytest.approx(2 * hz_of_midi(midi), rel=1e-12)


@pytest.mark.parametrize("name", HORNS)
def test_horns_transpose_as_in_music21(name):
    horn = HORNS[name]()
    assert instrument(name).sounds_semitones == horn.transposition.semitones
    assert instrument(name).lowest_written == horn.lowestNote.midi
    for written in range(58, 91):
        sounding = of_music21(written).transpose(horn.transposition)
        assert instrument(name).sounding(written) == sounding.midi
        assert hz_of_midi(instrument(name).sounding(written)) == pytest.approx(sounding.frequency, rel=1e-9)
        assert instrument(name).written(sounding.midi) == written


# What each reads to sound B♭3 together, from the transpositions of their classes: E♭ horns a G, B♭ horns a C.
READS_FOR_B_FLAT_3 = {"soprano": "C4", "alto": "G4", "tenor": "C5", "baritone": "G5"}


@pytest.mark.parametrize("name", HORNS)
def test_a_section_reads_what_music21_writes_for_one_sounding_note(name):
    back = HORNS[name]().transposition.reverse()
    assert instrument(name).written(parse_note("Bb3")) == parse_note(READS_FOR_B_FLAT_3[name])
    for sounding in range(40, 85):
        assert instrument(name).written(sounding) == of_music21(sounding).transpose(back).midi


def test_pure_intervals_lie_where_librosas_just_intonation_puts_them():
    just = librosa.interval_frequencies(12, fmin=1.0, intervals="ji5", bins_per_octave=12)
    for semitones, ratio in enumerate(just):
        assert just_cents(58 + semitones, 58) == pytest.approx(1200 * math.log2(ratio) - 100 * semitones, abs=1e-6)


@pytest.mark.parametrize(("semitones", "expected_cents"), [(0, 0.0), (3, 15.641), (4, -13.686), (7, 1.955), (12, 0.0)])
def test_pure_thirds_and_fifths_lie_beside_equal_temperament_as_printed(semitones, expected_cents):
    """Minor third 6:5, major third 5:4, fifth 3:2: the closed form, to a thousandth; octaves change nothing."""
    assert just_cents(46 + semitones, 46) == pytest.approx(expected_cents, abs=1e-3)
    assert just_cents(46 + semitones, 58) == pytest.approx(expected_cents, abs=1e-3)


def test_sopranino_and_bass_sound_a_minor_third_higher_and_two_octaves_and_a_second_lower():  # common practice
    assert instrument("sopranino").sounds_semitones == m21_interval.Interval("m3").semitones
    assert instrument("bass").sounds_semitones == -24 + m21_interval.Interval("M-2").semitones


@pytest.mark.parametrize("name", ENDS_HZ)
def test_the_ends_of_the_written_range_sound_where_the_tables_say(name):
    assert set(ENDS_HZ) == set(instruments())
    for written, expected_hz in zip((58, 90), ENDS_HZ[name], strict=True):
        assert hz_of_midi(instrument(name).sounding(written)) == pytest.approx(expected_hz, abs=5e-4)


def test_names_are_read_as_music21_reads_them():
    for letter in "CDEFGAB":
        for sign, theirs in {"": "", "b": "-", "#": "#", "♭": "-", "♯": "#"}.items():
            for octave in (3, 4, 5, 6):
                assert parse_note(f"{letter}{sign}{octave}") == m21_pitch.Pitch(f"{letter}{theirs}{octave}").midi


def test_names_that_are_written_come_back_as_the_same_note_in_music21():
    for midi in range(36, 97):
        assert m21_pitch.Pitch(note_name(midi).replace("b", "-")).midi == midi


@pytest.mark.parametrize(
    ("a4_hz", "expected_cents"), [(438, -7.89), (441, 3.93), (442, 7.85), (443, 11.76), (444, 15.67), (432, -31.77)]
)
def test_other_tuning_notes_lie_where_the_closed_form_puts_them(a4_hz, expected_cents):
    """1200 log2(a4/440), to the hundredth of a cent."""
    assert cents_between(hz_of_midi(57, a4_hz), hz_of_midi(57)) == pytest.approx(expected_cents, abs=5e-3)
    assert cents_between(float(a4_hz), 440.0) == pytest.approx(1200 * math.log2(a4_hz / 440), abs=1e-9)


def test_a_cent_is_the_twelve_hundredth_part_of_an_octave():
    assert hz_shifted(440.0, 1.0) / 440.0 == pytest.approx(1.00057779, abs=5e-9)
    assert hz_shifted(440.0, 1200.0) == pytest.approx(880.0, rel=1e-12)
    assert cents_between(880.0, 440.0) == pytest.approx(1200.0, abs=1e-9)


@pytest.mark.parametrize(
    ("partial", "expected_cents"),
    [(2, 0.0), (3, 1.955), (4, 0.0), (5, -13.686), (6, 1.955), (7, -31.174), (8, 0.0), (9, 3.910), (10, -13.686)],
)
def test_partials_lie_beside_equal_temperament_as_the_harmonic_series_says(partial, expected_cents):
    """Just intervals of the harmonic series: music21's harmonics of a pitch, and the closed form 1200 log2 n."""
    fingered = instrument("alto").sounding(parse_note("Bb3"))
    nearest = round(12 * math.log2(partial))
    beside = cents_between(partial * hz_of_midi(fingered), hz_of_midi(fingered + nearest))
    assert beside == pytest.approx(expected_cents, abs=1e-3)
    of_theirs = of_music21(fingered).getHarmonic(partial).ps - (fingered + nearest)
    assert beside == pytest.approx(100 * of_theirs, abs=0.51)  # music21 gives whole cents
