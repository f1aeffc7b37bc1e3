"""``manage.py demo_takes``: the demo students play the days that their story tells."""

from __future__ import annotations

from typing import Any

from django.core.management.base import BaseCommand

from assignments.demo.beside import play_beside
from assignments.demo.playing import play_the_past
from assignments.demo.showing import show


class Command(BaseCommand):
    help = "Render and send what the demo students have played so far; the running worker measures it."

    def handle(self, *args: Any, **options: Any) -> None:
        shown = show()
        if shown:
            self.stdout.write(f"The demo studio’s owner shows how {shown} tones should sound.")
        new = play_the_past(self.stdout.write) + play_beside()
        self.stdout.write(f"{new} demo takes were played and measured.")
