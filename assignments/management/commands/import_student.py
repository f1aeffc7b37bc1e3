"""Bring a student's copy into this installation."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from assignments import import_


class Command(BaseCommand):
    help = "Reads a copy that export_student or a page made. The student then comes in with a code from a teacher."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("file", type=Path)
        parser.add_argument("--username", default="", help="to sign in with, where the old one is taken")

    def handle(self, *args: Any, file: Path, username: str, **options: Any) -> None:
        try:
            with file.open("rb") as copy:
                student = import_.read(copy, username=username)
        except (import_.ImportRefusedError, OSError) as trouble:
            raise CommandError(str(trouble), returncode=2) from trouble
        self.stdout.write(f"{student.user.name} is here, in {student.studio.name}.")
