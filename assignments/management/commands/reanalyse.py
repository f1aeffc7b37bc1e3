"""``manage.py reanalyse``: kept takes measured again by the engine of today, beside what counted."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from django.core.management.base import BaseCommand, CommandParser

from assignments import reanalysis
from assignments.naming import outcome_word

OF_A_DAY = {True: "on target", False: "not on target", None: "too little to tell"}


class Command(BaseCommand):
    help = "Measure kept takes again. What counted stays; both are shown. Run it with --report first."

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--report", action="store_true", help="say what would change, and write nothing")
        parser.add_argument("--at-most", type=int, metavar="TAKES", help="stop after so many; the next run goes on")
        parser.add_argument("--batch", type=int, default=reanalysis.BATCH, help="takes looked up at once")

    def handle(self, *args: Any, report: bool, at_most: int | None, batch: int, **options: Any) -> None:
        found = reanalysis.again(write=not report, most=at_most, batch=max(1, batch))
        for line in said(found, report):
            self.stdout.write(line)


def said(found: reanalysis.Found, report: bool) -> Iterator[str]:
    """The whole answer, line by line."""
    differ = "would differ" if report else "differ"
    yield f"Engine {found.engine}: {found.takes} kept takes measured again, {found.takes_moved} {differ}."
    if found.broken:
        yield f"{found.broken} could not be measured any more; the log says which."
    yield f"Tones: {sum(found.moved.values())} of {found.tones} {differ}."
    for (was, now), count in sorted(found.moved.items()):
        yield f"  {outcome_word(was)} -> {outcome_word(now)}: {count}"
    yield f"Days: {len(found.days)} {'would come' if report else 'would have come'} to something else."
    for day in sorted(found.days, key=lambda day: (day.on, day.player)):
        yield f"  {day.on} {day.player}: {OF_A_DAY[day.was]} -> {OF_A_DAY[day.would_be]}"
    if report:
        yield "Nothing was written. Without --report the new measurements are kept beside the old ones."
    else:
        yield "The new measurements stand beside the old ones. What counted stays as it was."
