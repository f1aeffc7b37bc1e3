"""What was decided about a student's gates, and when they opened and shut: the same words for every reader."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable
from dataclasses import dataclass

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _

from assignments import gate_rules, standings
from assignments.models import Decision, Opening
from assignments.queries import rules
from assignments.stages import title
from studio.models import Horn

Kind = Decision.Kind


@dataclass(frozen=True, slots=True)
class LogEntry:
    """One line: the day, what happened, and the teacher's own words if there were any."""

    on: dt.date
    sentence: str
    words: str = ""


def entries(horn: Horn, ladder: standings.Ladder) -> tuple[LogEntry, ...]:
    """The newest first. A fixed number of queries."""
    decisions = list(Decision.objects.filter(horn=horn).select_related("by").order_by("-made_at"))  # of one day too
    openings = Opening.objects.filter(horn=horn, decision=None)
    found = [
        *(LogEntry(row.on, _decided(row), row.words) for row in decisions),
        *(
            LogEntry(row.opened_on, _("%(what)s opened: the rule was met.") % {"what": title(row.stage)})
            for row in openings
        ),
        *_shut_by_rule(ladder, decisions),
        *(LogEntry(row.from_on, rules.said(row), row.words) for row in gate_rules.of_horns([horn])),
    ]
    return tuple(sorted(found, key=lambda entry: entry.on, reverse=True))


def _decided(row: Decision) -> str:
    who = row.by.get_short_name() if row.by else _("A teacher")
    sentences = {
        Kind.CONFIRM: _("%(who)s listened and said yes: %(what)s."),
        Kind.NOT_YET: _("%(who)s listened and said not yet: %(what)s."),
        Kind.OPEN: _("%(who)s opened by hand: %(what)s."),
        Kind.SHUT: _("%(who)s shut for a while: %(what)s."),
        Kind.PAUSE: _("%(who)s set a pause."),
        Kind.RESUME: _("%(who)s ended what was set by hand."),
    }
    sentence = sentences[Kind(row.kind)] % {"who": who, "what": title(row.stage) if row.stage else ""}
    if row.until_on:
        sentence += " " + _("Until %(day)s.") % {"day": date_words(row.until_on, "j F")}
    return sentence


def _shut_by_rule(ladder: standings.Ladder, decisions: Iterable[Decision]) -> Iterable[LogEntry]:
    """Ends of openings that no teacher's word accounts for."""
    by_hand = {(row.stage, row.on) for row in decisions if row.kind == Kind.SHUT}
    for stage, standing in ladder.items():
        for spell in standing.openings:
            if spell.shut_on and (stage, spell.shut_on) not in by_hand:
                yield LogEntry(
                    spell.shut_on, _("%(what)s shut: back to the ground for a while.") % {"what": title(stage)}
                )
