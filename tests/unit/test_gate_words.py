"""Every state and reason of the gate has its sentences, for student and teacher, in the voice of the house."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any, get_args

import pytest

from assignments import gate, words
from tests.unit.gate_days import stand

NEVER = re.compile(
    r"\b(fail(ed|s)?|wrong|bad(ly)?|only|missed|perfect|amazing|great|percent|score)\b|[!%]", re.IGNORECASE
)
READERS = ("student", "teacher")
REASONS = (
    "teacher_paused", "teacher_opened", "after_break", "slipping", "shutting_soon", "teacher_shut",
    "waiting_for_teacher", "teacher_not_yet", "too_few_days", "days_off_target", "notes_short",
)  # fmt: skip


def building(**changes: Any) -> gate.Standing:
    """Five of the ten days there, 24 of 33 notes."""
    found = stand(9, bad=[0])
    usual: dict[str, Any] = {
        "rule": gate.DEFAULT,
        "window": gate.Window(10, 5),
        "notes_short": tuple(range(58, 67)),
        "notes_asked": 33,
        "opened_on": found.on,  # as every open gate has
    }
    return replace(found, **(usual | changes))


def test_every_state_and_every_reason_has_its_row_and_no_other_has() -> None:
    assert set(words.table()["state"]) == set(get_args(gate.State))
    assert set(words.table()["reason"]) == set(REASONS)


@pytest.mark.parametrize("reader", READERS)
@pytest.mark.parametrize("count", [0, 1, 7])
def test_every_sentence_can_be_said_whatever_is_missing(reader: words.Reader, count: int) -> None:
    standing = building(
        reasons=REASONS,
        window=gate.Window(10 - count, 8 - count),
        notes_short=tuple(range(count)),
        rest_days_left=count,
    )
    said = [words.headline(replace(standing, state=state), reader) for state in get_args(gate.State)]
    for sentence in (*said, *words.reasons(standing, reader)):
        assert "{" not in sentence
        assert "  " not in sentence
        assert " ." not in sentence
        if count == 1:
            assert not re.search(r"\b(1|[Oo]ne) (more |counted |on-target )*(days|notes)\b", sentence)


@pytest.mark.parametrize("row", [row for part in words.table().values() for row in part.values()])
def test_a_student_reads_short_sentences_without_blame(row: dict[str, str]) -> None:
    for name, text in row.items():
        if name.startswith("student"):
            assert not NEVER.search(text), text
            for sentence in re.split(r"(?<=[.?:])\s", text):
                assert len(sentence.split()) <= 15, sentence


def test_building_tells_days_and_notes() -> None:
    assert words.headline(building(), "student") == "Laying the ground: 5 of 10 days, 24 of 33 notes."


def test_the_teacher_is_named_to_the_student() -> None:
    ready = building(state="ready")
    assert words.headline(ready, "student", teacher="Marit") == "The rule is met. Marit listens next."


def test_a_pause_tells_its_last_day_if_it_has_one() -> None:
    paused = stand(4, said=[(4, "pause", 9)])
    assert words.headline(paused, "student") == "On a pause until 14 January. Nothing counts against you."
    endless = stand(4, said=[(4, "pause")])
    assert words.headline(endless, "student") == "On a pause. Nothing counts against you."


def test_a_gate_shut_by_hand_that_never_stood_open_has_no_day_to_name() -> None:
    assert words.headline(stand(4, said=[(4, "shut")]), "teacher") == "Shut."
    assert words.headline(stand(4, said=[(1, "open", 2)]), "teacher") == "Shut since 8 January."


def test_the_note_rule_is_told_with_its_own_numbers() -> None:
    rule = gate.rule_from({"note_hits": 2, "note_tries": 4})
    one = building(rule=rule, notes_short=(60,), reasons=("notes_short",))
    assert words.reasons(one, "student") == ("One note still needs its 2 hits in 4 goes.",)
