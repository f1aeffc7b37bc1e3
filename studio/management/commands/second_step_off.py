"""From the site's own computer: somebody whom nobody else can let in again signs in with the passphrase alone."""

from __future__ import annotations

from argparse import ArgumentParser
from typing import Any

from django.core.management.base import BaseCommand, CommandError

from studio import second_step
from studio.models import User


class Command(BaseCommand):
    help = "Turns the second step off: of an owner who lost phone and codes, of all after a new secret key."

    def add_arguments(self, parser: ArgumentParser) -> None:
        parser.add_argument("usernames", nargs="*", metavar="NAME", help="as they sign in")
        parser.add_argument("--all", action="store_true", dest="everybody", help="whoever has one")

    def handle(self, *args: Any, usernames: list[str], everybody: bool, **options: Any) -> None:
        people = User.objects.exclude(second_step=None) if everybody else User.objects.filter(username__in=usernames)
        unknown = set(usernames) - {user.username for user in people}
        if unknown or not (usernames or everybody):
            raise CommandError(f"Nobody signs in as {', '.join(sorted(unknown))}." if unknown else "Name somebody.")
        with_one = [user for user in people if second_step.is_on(user)]
        for user in with_one:
            second_step.turn_off(user, by=None)
        self.stdout.write(f"{len(with_one)} turned off.")
