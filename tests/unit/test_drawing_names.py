"""What notes and tones are called, and where written notes lie on the stave."""

import pytest

from assignments import naming
from assignments.exercises import TONE_WORDS
from assignments.piers import piers_of
from assignments.staves import BOTTOM_LINE, SPACE, stave_of


@pytest.mark.parametrize(
    ("midi", "plain", "said", "placed"),
    [
        (57, "A3", "A 3", "low A"),
        (58, "B♭3", "B flat 3", "low B flat"),
        (60, "C4", "C 4", "low C"),
        (69, "A4", "A 4", "middle A"),
        (73, "C♯5", "C sharp 5", "middle C sharp"),
        (83, "B5", "B 5", "high B"),
        (90, "F♯6", "F sharp 6", "high F sharp"),
        (98, "D7", "D 7", "very high D"),
    ],
)
def test_a_note_is_named_as_players_say_it(midi: int, plain: str, said: str, placed: str) -> None:
    assert (naming.note_plain(midi), naming.note_said(midi), naming.note_placed(midi)) == (plain, said, placed)


def test_readers_hear_sharp_and_very_soft_never_a_sign() -> None:
    html = naming.note_html(73) + naming.tone_html("pp")
    assert html == (
        '<span class="note" aria-hidden="true">C♯<sub>5</sub></span><span class="unseen">C sharp 5</span>'
        '<span class="level" aria-hidden="true">pp</span><span class="unseen">very soft</span>'
    )


def test_every_tone_of_the_range_has_words_of_its_own() -> None:
    assert len(TONE_WORDS) == 11
    assert len({naming.tone_said(tone) for tone in TONE_WORDS}) == 11


def test_every_outcome_has_a_word_and_nothing_is_not_played() -> None:
    words = [naming.outcome_word(outcome) for outcome in ("hit", "miss", "unreadable", None)]
    assert words == ["on target", "not yet", "couldn’t hear", "not played"]


def test_an_unknown_tone_is_loud_about_it() -> None:
    with pytest.raises(KeyError):
        naming.tone_said("louder")


@pytest.mark.parametrize(
    ("midi", "half_spaces_above_bottom_line"),
    # The treble clef puts G4 on the second line, so E4 on the first and F5 on the fifth (common practice).
    [(64, 0), (67, 2), (77, 8), (60, -2), (58, -3), (57, -4), (90, 15), (91, 16)],
)
def test_a_written_note_lies_on_its_line(midi: int, half_spaces_above_bottom_line: int) -> None:
    note = stave_of([midi]).notes[0]
    assert note.y == BOTTOM_LINE - half_spaces_above_bottom_line * SPACE // 2


@pytest.mark.parametrize(
    ("midi", "ledger_lines"), [(64, 0), (62, 0), (60, 1), (59, 1), (57, 2), (79, 0), (81, 1), (84, 2), (90, 3)]
)
def test_a_note_off_the_stave_gets_its_ledger_lines(midi: int, ledger_lines: int) -> None:
    assert len(stave_of([midi]).notes[0].ledger_ys) == ledger_lines


def test_flats_and_sharps_stand_before_their_notes() -> None:
    flat, sharp, plain = stave_of([58, 73, 60]).notes
    assert (flat.sign, sharp.sign, plain.sign) == ("flat", "sharp", "")
    assert flat.sign_x < flat.x
    assert sharp.sign_x < sharp.x


def test_every_note_of_every_saxophone_stays_on_the_sheet() -> None:
    stave = stave_of(range(57, 92))
    assert all(stave.top < y < stave.top + stave.height for note in stave.notes for y in (note.y, *note.ledger_ys))
    assert stave.notes[-1].ledger_to < stave.width


def ground(**changes: object) -> dict[str, object]:
    return {
        "days_on_target": 7,
        "opens_at": 8,
        "notes_standing": 31,
        "notes_in_range": 33,
        "teacher_confirms": True,
        "teacher_said_yes": False,
        "is_open": False,
    } | changes


def test_piers_are_laid_as_far_as_the_ground_is() -> None:
    days, notes, teacher = piers_of(**ground()).piers  # type: ignore[arg-type] # the dictionary above holds them
    assert [len(pier.courses) for pier in (days, notes, teacher)] == [7, 31, 0]
    assert all(pier.trench for pier in (days, notes, teacher))


def test_an_open_gate_has_three_whole_piers_up_to_the_beam() -> None:
    drawn = piers_of(**ground(days_on_target=10, notes_standing=33, teacher_said_yes=True, is_open=True))  # type: ignore[arg-type]
    assert [pier.trench for pier in drawn.piers] == [None, None, None]
    assert len(drawn.piers[0].courses) == 8, "days beyond the rule lay no further course"
    assert min(course.top for course in drawn.piers[2].courses) == drawn.beam_height


def test_courses_lie_on_each_other_without_overlapping() -> None:
    for pier in piers_of(**ground()).piers:  # type: ignore[arg-type]
        for lower, upper in zip(pier.courses, pier.courses[1:], strict=False):
            assert upper.top + upper.height < lower.top


def test_a_rule_that_is_switched_off_has_no_pier() -> None:
    drawn = piers_of(**ground(notes_in_range=None, teacher_confirms=False))  # type: ignore[arg-type]
    assert [pier.name for pier in drawn.piers] == ["days"]
