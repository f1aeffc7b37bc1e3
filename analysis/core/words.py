"""What each code of a report says to a student, what to do about it, and what it means to a teacher."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path


@dataclass(frozen=True, slots=True)
class Words:
    """``student``: what happened; ``do``: one thing to do next; ``teacher``: how it was found and what it spoils."""

    student: str
    do: str
    teacher: str

    @property
    def advice(self) -> str:
        """What happened and what to do, as one line."""
        return f"{self.student} {self.do}".strip()

    def told(self, *, note: str = "", level: str = "", beats: str = "") -> Words:
        """The same words with their places filled: the note's name, its mark, the beats it is about."""
        places = {"note": note, "level": level, "beats": beats}
        return Words(self.student.format_map(places), self.do.format_map(places), self.teacher)


@cache
def all_words() -> Mapping[str, Words]:
    """Every code with its words, from data/words.toml."""
    rows = tomllib.loads((Path(__file__).parent / "data" / "words.toml").read_text(encoding="utf-8"))
    return {code: Words(row["student"], row["do"], row["teacher"]) for code, row in rows.items()}


def words(code: str) -> Words:
    """The words of one code. ``KeyError`` for a code that nobody has given words."""
    return all_words()[code]
