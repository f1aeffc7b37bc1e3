"""Writing an opening down, once: the unique row decides, however often a day is settled."""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict

from assignments import standings
from assignments.models import Decision, Opening
from studio.models import Horn


def look(horn: Horn) -> list[Opening]:
    """Read each gate of the horn and write what has opened. Returns the openings that are new."""
    new = []
    for stage, standing in standings.ladders([horn], horn.studio.today())[horn.pk].items():
        for spell in standing.openings:
            opening, is_new = Opening.objects.get_or_create(
                horn=horn,
                stage=stage,
                opened_on=spell.opened_on,
                defaults={
                    "rule": asdict(standing.rule),
                    "window": standing.window._asdict(),
                    "decision": _answer(horn, stage, spell.opened_on),
                },
            )
            if is_new:
                new.append(opening)
    return new


def _answer(horn: Horn, stage: int, on: dt.date) -> Decision | None:
    """The teacher's word that opened it that day; None: the rule alone."""
    words = Decision.objects.filter(horn=horn, stage=stage, on=on, kind__in=(Decision.Kind.CONFIRM, Decision.Kind.OPEN))
    return words.order_by("made_at").last()
