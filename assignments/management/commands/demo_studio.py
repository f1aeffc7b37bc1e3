"""``manage.py demo_studio``: an invented studio to look around in."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand, CommandError

from assignments.demo import cast


class Command(BaseCommand):
    help = "Make the invented demo studio in a database without people. `demo_takes` then lets its students play."

    def handle(self, *args: Any, **options: Any) -> None:
        if cast.people_are_here():
            raise CommandError("There are people here already. The demo studio goes into an empty database only.")
        for line in cast.make_people():
            self.stdout.write(line)
