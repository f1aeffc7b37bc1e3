"""Look after takes that nobody is working on: once, or over and over."""

import logging
import time
from typing import Any

from django.conf import settings
from django.core.management.base import BaseCommand, CommandParser
from django.db import close_old_connections
from django.utils.module_loading import import_string

log = logging.getLogger(__name__)


class Command(BaseCommand):
    help = "Sends again what has waited too long, takes back what a lost worker held, settles what was measured."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--every", type=int, metavar="SECONDS", help="again and again, with this pause between")

    def handle(self, *args: Any, every: int | None, **options: Any) -> None:
        sweep = import_string(settings.SWEEP)
        if every is None:
            sweep()
            return
        while True:
            try:
                sweep()
            except Exception:  # a database that is away for a minute must not end the looking after
                log.exception("The sweep failed; the next one comes in %d s.", every)
            close_old_connections()
            time.sleep(every)
