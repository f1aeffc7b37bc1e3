"""Write everything of one student into one file."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from assignments import export
from studio.models import Membership


class Command(BaseCommand):
    help = "Writes a copy of everything of one student, named by the name for signing in."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("username")
        parser.add_argument("file", type=Path, help="the zip file to write; it must not be there yet")

    def handle(self, *args: Any, username: str, file: Path, **options: Any) -> None:
        students = Membership.objects.filter(role=Membership.Role.STUDENT, user__username=username)
        if students.count() != 1:
            raise CommandError(f"{students.count()} students sign in as {username}; one is needed.", returncode=2)
        try:
            with file.open("xb") as out:
                export.write(students.get(), out, by=None)
        except FileExistsError as trouble:
            raise CommandError(f"{file} is there already. Choose another name.", returncode=2) from trouble
        self.stdout.write(f"{file}: {file.stat().st_size / 1e6:.1f} MB")
