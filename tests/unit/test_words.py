"""Every code that a check, a fault of a shape or a sign can carry has its words, in the voice of the house."""

from __future__ import annotations

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

from analysis.core.squeeze_signs import SignName
from analysis.core.words import all_words, words

CORE = Path(__file__).resolve().parents[2] / "analysis" / "core"
NEVER = re.compile(
    r"\b(fail(ed|s)?|wrong|bad(ly)?|only|missed|perfect|amazing|great|cents?|percent|dB)\b|[!%]", re.IGNORECASE
)


def codes_in(module: str) -> set[str]:
    """Every text in a module of the core that looks like a code."""
    tree = ast.parse((CORE / module).read_text(encoding="utf-8"))
    keywords = {
        kw.value.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Call)
        for kw in node.keywords
        if kw.arg == "code" and isinstance(kw.value, ast.Constant)
    }
    texts = {node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str)}
    begun = ("pitch_", "level_", "starts_", "ends_", "swell_", "shape_", "steps_", "vibrato_", "too_")
    return keywords | {text for text in texts if text in all_words() and text.startswith(begun)}


@pytest.mark.parametrize("module", ["checks_ends.py", "checks_body.py", "shape_limits.py"])
def test_every_code_of_a_check_has_words(module: str) -> None:
    codes = codes_in(module)
    assert codes
    assert codes - set(all_words()) == set()


def test_every_fault_of_a_shape_has_words() -> None:
    text = (CORE / "shape_limits.py").read_text(encoding="utf-8")
    codes = set(re.findall(r'Fault\([^"]*"\w+",.*?"(\w+)"\)', text))
    assert len(codes) > 12
    assert codes - set(all_words()) == set()


def test_every_sign_of_a_squeeze_has_words_and_so_has_the_whole() -> None:
    assert {f"squeeze_{name}" for name in get_args(SignName)} | {"possible_squeeze", "not_heard"} <= set(all_words())


@pytest.mark.parametrize("code", sorted(all_words()))
def test_a_student_reads_short_sentences_with_nothing_to_be_ashamed_of(code: str) -> None:
    said = words(code)
    for text in (said.student, said.do):
        assert not NEVER.search(text), text
        for sentence in re.split(r"(?<=[.?:])\s", text):
            assert len(sentence.split()) <= 16, sentence
    assert said.student
    assert said.teacher


@pytest.mark.parametrize("code", sorted(all_words()))
def test_nothing_but_note_level_and_beats_is_left_open(code: str) -> None:
    said = words(code)
    assert set(re.findall(r"\{(\w*)\}", said.student + said.do)) <= {"note", "level", "beats"}
    told = said.told(note="C♯5", level="pp", beats="beats 5 and 6")
    assert "{" not in told.student + told.do
    assert told.teacher == said.teacher


def test_places_are_filled() -> None:
    assert words("cracks").told(note="B♭3", beats="beat 2").student == "B♭3 cracks on beat 2."
