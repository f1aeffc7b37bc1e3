"""Make a backup of rows and recordings."""

import datetime as dt
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand, CommandError, CommandParser
from django.utils import timezone
from django.utils.formats import date_format

from assignments import backups


class Command(BaseCommand):
    help = "Copies every row and every recording into a new folder, with checksums. The site goes on meanwhile."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("into", type=Path, help="folder of the backups; best on another disk")
        parser.add_argument(
            "--keep-days",
            type=int,
            default=backups.KEEP_DAYS,
            metavar="DAYS",
            help="older backups in that folder are deleted (default: %(default)s)",
        )

    def handle(self, *args: Any, into: Path, keep_days: int, **options: Any) -> None:
        try:
            made = backups.make(into, keep_days)
        except OSError as trouble:
            raise CommandError(f"No backup was made: {trouble.strerror}. {into} needs room.") from trouble
        forgotten_on = date_format(timezone.now() + dt.timedelta(days=keep_days), "j F Y")
        self.stdout.write(f"{made.folder}: {made.rows} rows, {made.recordings} recordings.")
        self.stdout.write(f"Whoever is deleted today is gone from the backups after {forgotten_on}.")
        self.stdout.write("The secret key and erased.txt of the data folder are not in it: keep them apart.")
        if made.damaged:
            names = ", ".join(made.damaged[:5])
            raise CommandError(f"{len(made.damaged)} recordings are missing or not as they were sent: {names}")
