"""Bring a backup back."""

from pathlib import Path
from typing import Any

from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandError, CommandParser

from assignments import restoring


class Command(BaseCommand):
    help = "Brings a backup into an empty database and data folder, and deletes again whoever had been deleted since."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("folder", type=Path, help="one backup: the folder with its manifest.json")

    def handle(self, *args: Any, folder: Path, **options: Any) -> None:
        call_command("migrate", interactive=False, verbosity=0)
        try:
            rows, erased = restoring.restore(folder)
        except restoring.RestoreRefusedError as refused:
            raise CommandError(str(refused)) from refused
        self.stdout.write(f"{sum(rows.values())} rows are back, with their recordings.")
        self.stdout.write(f"Deleted again, as they had been deleted since: {erased}.")
        if rows["studio.secondstep"]:
            self.stdout.write("Second steps and codes on paper work with the secret key of the old place alone. Is it")
            self.stdout.write("lost? Then turn the second steps off: manage.py second_step_off --all")
