"""Every code that a report can hold has words, and every word is one that something can say."""

from __future__ import annotations

import ast
import dataclasses
import re
import sys
import tomllib
import typing
from pathlib import Path

import pytest

import analysis
from analysis.core import records
from analysis.core.words import all_words, words

FOLDER = Path(analysis.__file__).parent
MODULES = [*FOLDER.glob("core/**/*.py"), FOLDER / "faults.py"]
NAMES = {"Doubles": object, "Floats": object}  # arrays are named for type checkers only
CODE = re.compile(r"[a-z]+(_[a-z]+)+")
# Names that look like codes and are none: of a column, a limit that two fields share, the three parts of a sign.
NO_CODES = {"range_end", "colour_pct", "slope_ratio", "small_range", "pitch_in_a_room", "extent_in_a_room"}


def hints_of(kind: type) -> dict[str, object]:
    return typing.get_type_hints(kind, {**vars(sys.modules[kind.__module__]), **NAMES})


def names_of_fields() -> set[str]:
    kinds = [kind for kind in vars(records).values() if dataclasses.is_dataclass(kind)]
    names = {field.name for kind in kinds for field in dataclasses.fields(kind)}
    literals = [hint for kind in kinds for hint in hints_of(kind).values()]
    return names | {value for hint in literals for value in typing.get_args(hint) if isinstance(value, str)}


def keys_of_tables() -> set[str]:
    keys: set[str] = set()

    def gather(value: object) -> None:
        if isinstance(value, dict):
            keys.update(value)
            for inner in value.values():
                gather(inner)
        elif isinstance(value, list):
            for inner in value:
                gather(inner)

    for table in (FOLDER / "core" / "data").glob("*.toml"):
        if table.name != "words.toml":
            gather(tomllib.loads(table.read_text(encoding="utf-8")))
    return keys


def said_in(file: Path) -> set[str]:
    """Every text in a module that has the form of a code."""
    constants = [
        node for node in ast.walk(ast.parse(file.read_text(encoding="utf-8"))) if isinstance(node, ast.Constant)
    ]
    return {node.value for node in constants if isinstance(node.value, str) and CODE.fullmatch(node.value)}


def test_no_code_is_without_words() -> None:
    known = set(all_words()) | names_of_fields() | keys_of_tables() | NO_CODES
    assert {(file.name, code) for file in MODULES for code in said_in(file) - known} == set()


@pytest.mark.parametrize("code", all_words())
def test_words_are_short_and_say_what_to_do(code: str) -> None:
    said = words(code)
    assert said.student
    assert said.teacher
    for sentence in re.split(r"(?<=[.?])\s+", f"{said.student} {said.do}".strip()):
        assert len(sentence.split()) <= 18, sentence
    for text in (said.student, said.do, said.teacher):
        assert "!" not in text
        assert "%" not in text
        assert not re.search(r"\b(fail|wrong|bad|you missed)\b", text, re.IGNORECASE)
