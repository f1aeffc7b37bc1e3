"""Which note each tone is and which of those asked for it answers."""

from __future__ import annotations

import pytest

from analysis.core.alignment import Alignment, align, broken
from analysis.core.records import Asked, Span
from analysis.core.tables import hz_of_midi, instrument
from analysis.core.tones import Found

ALTO = instrument("alto")


def found(written: list[float], seconds: float = 3.0, gap_s: float = 1.0) -> list[Found]:
    """Tones one after another; fractions of a written note are hundredths of a semitone."""
    starts_s = [i * (seconds + gap_s) for i in range(len(written))]
    return [
        Found(Span(s, s + seconds, s + 0.2, s + seconds - 0.1), hz_of_midi(midi + ALTO.sounds_semitones))
        for s, midi in zip(starts_s, written, strict=True)
    ]


def asked(*written: int) -> tuple[Asked, ...]:
    return tuple(Asked(midi) for midi in written)


def answers(alignment: Alignment) -> list[int | None]:
    return [heard.asked_index for heard in alignment.heard]


def test_without_asking_each_tone_is_its_nearest_note() -> None:
    alignment = align(found([60.2, 71.9]), (), ALTO, 440.0)
    assert [heard.written_midi for heard in alignment.heard] == [60, 72]
    assert [heard.expected for heard in alignment.heard] == [None, None]


def test_the_tuning_note_moves_the_targets() -> None:
    (heard,) = align(found([60.0]), (), ALTO, 442.0).heard
    assert heard.target_hz == pytest.approx(hz_of_midi(51, 442.0))


def test_a_take_nearly_half_a_semitone_flat_keeps_its_names() -> None:
    flat = [60 - 0.45, 62 - 0.49, 64 - 0.42, 65 - 0.52]
    assert [heard.written_midi for heard in align(found(flat), (), ALTO, 440.0).heard] == [60, 62, 64, 65]


def test_right_notes_answer_in_order() -> None:
    alignment = align(found([60, 62, 64]), asked(60, 62, 64), ALTO, 440.0)
    assert (answers(alignment), alignment.missing) == ([0, 1, 2], ())


def test_one_missing_one_extra_and_one_wrong() -> None:
    assert align(found([60, 64]), asked(60, 62, 64), ALTO, 440.0).missing == ("D4",)
    assert answers(align(found([60, 61, 62]), asked(60, 62), ALTO, 440.0)) == [0, None, 1]
    wrong = align(found([60, 63, 64]), asked(60, 62, 64), ALTO, 440.0)
    assert (answers(wrong), wrong.missing) == ([0, None, 2], ("D4",))
    assert wrong.heard[1].expected is False


def test_a_note_well_out_of_tune_is_still_the_one_asked_for() -> None:
    (heard,) = align(found([60.6]), asked(60), ALTO, 440.0).heard
    assert (heard.written_midi, heard.expected) == (60, True)


def test_of_two_tries_at_one_note_the_longer_answers() -> None:
    short, long = found([60], seconds=0.6)[0], found([60, 60], seconds=4.0)[1]
    assert answers(align([short, long], asked(60), ALTO, 440.0)) == [None, 0]
    later = Found(Span(9.0, 9.6, 9.2, 9.5), long.f0_hz)
    assert answers(align([long, later], asked(60), ALTO, 440.0)) == [0, None]


def test_overtones_are_judged_against_the_exact_partial() -> None:
    wanted = (Asked(58, partial=3), Asked(58, partial=5), Asked(58, partial=7))
    alignment = align(found([77.0, 86.0, 92.0]), wanted, ALTO, 440.0)
    assert [heard.partial for heard in alignment.heard] == [3, 5, 7]
    assert [heard.written_midi for heard in alignment.heard] == [77, 86, 92]
    for heard, partial in zip(alignment.heard, (3, 5, 7), strict=True):
        assert heard.target_hz == pytest.approx(partial * hz_of_midi(49))


def test_another_partial_is_named_before_its_pitch_is_judged() -> None:
    (heard,) = align(found([70.2]), (Asked(58, partial=3),), ALTO, 440.0).heard
    assert (heard.asked_index, heard.partial, heard.expected, heard.written_midi) == (0, 2, False, 70)
    assert heard.target_hz == pytest.approx(2 * hz_of_midi(49))  # as the partial that it is
    (low,) = align(found([58.0]), (Asked(58, partial=3),), ALTO, 440.0).heard
    assert low.partial == 1
    assert align(found([70.0]), (Asked(58, partial=3),), ALTO, 440.0).missing == ("F5",)


def test_what_is_no_partial_of_that_fingering_answers_nothing() -> None:
    assert answers(align(found([66.0]), (Asked(58, partial=3),), ALTO, 440.0)) == [None]
    assert answers(align(found([70.0]), asked(77), ALTO, 440.0)) == [None]  # nobody asked for a partial


def test_another_partial_answers_in_its_own_place_alone() -> None:
    wanted = (Asked(58, partial=2), Asked(70), Asked(58, partial=3), Asked(77))
    alignment = align(found([70.0, 70.0, 70.0, 77.0]), wanted, ALTO, 440.0)
    assert answers(alignment) == [0, 1, 2, 3]
    assert [heard.partial for heard in alignment.heard] == [2, None, 2, None]
    fundamental = align(found([58.0, 70.0, 77.0, 77.0]), wanted, ALTO, 440.0)
    assert [heard.partial for heard in fundamental.heard] == [1, None, 3, None]
    assert answers(align(found([70.0]), wanted[2:], ALTO, 440.0)) == [0]
    twice = align(found([58.0, 70.0]), (Asked(58, partial=3), Asked(58, partial=4)), ALTO, 440.0)
    assert (answers(twice), [heard.partial for heard in twice.heard]) == ([0, 1], [1, 2])


def test_nothing_heard_is_all_missing_and_nothing_asked_is_all_right() -> None:
    assert align([], asked(60, 61), ALTO, 440.0).missing == ("C4", "C#4")
    assert align([], (), ALTO, 440.0) == Alignment((), ())


@pytest.mark.parametrize(("played", "horn"), [(5, "alto"), (-12, "tenor"), (7, "soprano")])
def test_everything_off_by_the_distance_of_two_horns_is_another_horn(played: int, horn: str) -> None:
    scale = [62, 64, 66, 67, 69, 71, 73, 74]
    chosen = {"alto": "tenor", "tenor": "soprano", "soprano": "alto"}[horn]
    notes = [midi + played + instrument(chosen).sounds_semitones - ALTO.sounds_semitones for midi in scale]
    alignment = align(found(notes), asked(*scale), instrument(chosen), 440.0)
    assert (alignment.shifted_semitones, alignment.sounds_like) == (played, horn)


def test_one_wrong_note_is_no_other_horn() -> None:
    alignment = align(found([60, 63, 64, 66]), asked(60, 62, 64, 66), ALTO, 440.0)
    assert alignment.shifted_semitones == 0


def test_a_tone_that_goes_out_for_a_moment_is_one_if_one_was_asked_for() -> None:
    parts = found([60, 60], seconds=2.0, gap_s=0.1)
    assert broken(parts, align(parts, asked(60), ALTO, 440.0).heard) == {0}
    assert broken(parts, align(parts, asked(60, 60), ALTO, 440.0).heard) == set()
    assert broken(parts, align(parts, (), ALTO, 440.0).heard) == set()
    apart = found([60, 60], seconds=2.0, gap_s=0.5)
    assert broken(apart, align(apart, asked(60), ALTO, 440.0).heard) == set()
