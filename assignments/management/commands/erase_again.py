"""After a backup was put back: delete anew whoever had been deleted since it was made."""

from __future__ import annotations

from argparse import ArgumentParser
from pathlib import Path
from typing import Any

from django.core.management.base import BaseCommand

from assignments import erasure


class Command(BaseCommand):
    help = "Deletes again every student on the list of deleted ones. Run it after every restore."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--list", type=Path, help="default: erased.txt in the data folder", dest="listed")

    def handle(self, *args: Any, listed: Path | None, **options: Any) -> None:
        self.stdout.write(f"{erasure.again(listed or erasure.list_file())} deleted again.")
