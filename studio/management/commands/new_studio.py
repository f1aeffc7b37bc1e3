"""``manage.py new_studio``: a studio of one's own, and the code with which its owner comes in."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.management.base import BaseCommand, CommandError
from django.urls import reverse

from studio import access, codes, founding


class Command(BaseCommand):
    help = "Makes a studio, or a new code for one that nobody owns yet, and prints its owner's code, once."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("name", help="of the studio")
        parser.add_argument("--owner", required=True, metavar="NAME", help="who is to own it, as people say it")
        parser.add_argument(
            "--time-zone",
            default="",
            metavar="ZONE",
            help="its practice days end at midnight there (default: Europe/London, or as it was)",
        )

    def handle(self, *args: Any, name: str, owner: str, time_zone: str, **options: Any) -> None:
        try:
            invitation, code = founding.found(name=name.strip(), owner=owner.strip(), time_zone=time_zone)
        except ValidationError as refused:
            raise CommandError(" ".join(refused.messages)) from refused
        self.stdout.write(f"“{invitation.studio}” is there. Its owner opens {settings.ADDRESS}{reverse('join')}")
        self.stdout.write(f"and types {codes.shown(code)} (good once, until {invitation.expires_at:%Y-%m-%d}).")
        if access.is_among_others(invitation.studio):
            self.stdout.write(
                "Other studios are on this site: the teachers and assistants of each now sign in with a second step."
            )
