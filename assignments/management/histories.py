"""What the commands ``standing`` and ``plan`` share: a file of histories in, one answer a line out."""

from __future__ import annotations

import os
import sys
from contextlib import ExitStack
from typing import Any, BinaryIO

from django.core.management.base import BaseCommand, CommandError, CommandParser

from assignments import histories


class HistoriesCommand(BaseCommand):
    """Exit status 0: all were read; 1: some line was no history; 2: wrong arguments or no such file."""

    requires_system_checks: Any = []  # no database, broker or network
    answer: histories.Answer

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("histories", metavar="HISTORIES.jsonl", help='one JSON object a line; "-": standard input')

    def handle(self, *args: Any, **options: Any) -> None:
        with ExitStack() as opened:
            all_read = self._answer_all(self._open(options["histories"], opened))
        if not all_read:
            sys.exit(1)

    def _open(self, name: str, opened: ExitStack) -> BinaryIO:
        if name == "-":
            return sys.stdin.buffer
        try:
            return opened.enter_context(open(name, "rb"))
        except (OSError, ValueError) as trouble:
            raise CommandError(f"{name} can't be read: {_problem(trouble)}.", returncode=2) from trouble

    def _answer_all(self, stream: BinaryIO) -> bool:
        all_read = True
        try:
            for text, was_read in histories.answers(stream, type(self).answer):
                self.stdout.write(text)
                self.stdout.flush()
                all_read = all_read and was_read
        except BrokenPipeError:  # whoever read our answers has seen enough
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            return False
        except OSError as trouble:
            raise CommandError(f"The histories can't be read on: {_problem(trouble)}.", returncode=2) from trouble
        return all_read


def _problem(trouble: OSError | ValueError) -> str:
    return trouble.strerror or str(trouble) if isinstance(trouble, OSError) else str(trouble)
