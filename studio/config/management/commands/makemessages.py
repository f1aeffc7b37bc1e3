"""Gather every text that people read into the catalogues, those of the tables in data/*.toml among them.

``manage.py makemessages`` alone does the house's three languages; ``-l`` and the other options stay Django's own.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from django.conf import settings
from django.core.management.base import CommandParser
from django.core.management.commands import makemessages

TEXTS = {  # by table: which of its fields are read by people
    "analysis/core/data/instruments.toml": ("name",),
    "analysis/core/data/words.toml": ("student", "do", "teacher"),
    "assignments/data/words.toml": ("student", "teacher"),
    "assignments/data/chords.toml": ("title",),
    "assignments/data/exercises.toml": ("title", "summary"),
    "assignments/data/routines.toml": ("name", "summary"),
}
ONE = "_one"  # behind a field's name: the same sentence for a count of one
HERE = Path(settings.BASE_DIR)


def texts(table: Path, fields: tuple[str, ...]) -> Iterator[tuple[str, str | None]]:
    """Each sentence of a table; with a count, that for one and then that for many."""
    for row in _rows(tomllib.loads(table.read_text("utf-8"))):
        for field in fields:
            if f"{field}{ONE}" in row:
                yield row[f"{field}{ONE}"], row[field]
            elif row.get(field):
                yield row[field], None


def _rows(table: dict[str, Any]) -> Iterator[dict[str, Any]]:
    for held in table.values():
        for row in held if isinstance(held, list) else [held]:
            if isinstance(row, dict):
                yield row
                yield from _rows(row)


class BuildFile(makemessages.BuildFile):
    """A table is handed to xgettext as lines of Python."""

    def preprocess(self) -> None:
        if not self.path.endswith(".toml"):
            super().preprocess()
            return
        fields = TEXTS.get(Path(self.path).resolve().relative_to(HERE).as_posix(), ())
        calls = [
            f"_({one!r})" if many is None else f"ngettext({one!r}, {many!r}, 0)"
            for one, many in texts(Path(self.path), fields)
        ]
        Path(self.work_path).write_text("\n".join(calls), encoding="utf-8")


class Command(makemessages.Command):
    build_file_class = BuildFile
    # A text that is new has no translation: one of its neighbours', taken for it, would be read by somebody.
    msgmerge_options = [*makemessages.Command.msgmerge_options, "--no-fuzzy-matching"]

    def add_arguments(self, parser: CommandParser) -> None:
        super().add_arguments(parser)
        languages = [code for code, _name in settings.LANGUAGES if code != settings.LANGUAGE_CODE]
        parser.set_defaults(
            locale=languages,
            extensions=["html", "txt", "py", "toml"],
            ignore_patterns=["var/*", "tests/*"],
            add_location="file",
            no_obsolete=True,
        )
