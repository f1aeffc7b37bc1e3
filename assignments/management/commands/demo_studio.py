"""``manage.py demo_studio``: an invented studio to look around in."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from assignments.demo import cast, clearing
from studio import founding


class Command(BaseCommand):
    help = "Make the invented demo studio in a database without people. `demo_takes` then lets its students play."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("--remove", action="store_true", help="take it away again, with all that was played in it")
        parser.add_argument("--newcomers-too", action="store_true", help="and with whoever came into it since")

    def handle(self, *args: Any, remove: bool, newcomers_too: bool, **options: Any) -> None:
        if remove:
            self.remove(newcomers_too)
            return
        if not founding.is_empty():
            raise CommandError("There are people here already. The demo studio goes into an empty database only.")
        for line in cast.make_people():
            self.stdout.write(line)

    def remove(self, newcomers_too: bool) -> None:
        studio = clearing.demo_studio()
        if studio is None:
            raise CommandError("There is no demo studio here.")
        came = [row.user.name for row in clearing.newcomers(studio)]
        if came and not newcomers_too:
            raise CommandError(
                f"{', '.join(came)} came into the demo studio since, and everything of theirs in it would go too. "
                "Export what is to stay (manage.py export_student), then add --newcomers-too."
            )
        clearing.clear(studio)
        self.stdout.write("The demo studio is gone, with everyone in it and all that they played.")
        for person in clearing.known_to_everybody():
            self.stdout.write(
                f"{person.name} ({person.username}) has a place elsewhere and stays, with the demo's passphrase, which "
                f"everybody knows. Change it now: manage.py changepassword {person.username}"
            )
