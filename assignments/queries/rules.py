"""The gate's rule of a studio or of one student: what holds, what was agreed before, and what another would do."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING

from django.template.defaultfilters import date as date_words
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import gate_rules, rule_words, weeks
from assignments.exercises import MINUTES, slots_of_budget
from assignments.gate_rules import Asked
from assignments.models import GateRule
from studio.models import Horn, Studio

if TYPE_CHECKING:
    from assignments.preview import Preview  # heavy to load

ALL = 100  # cases are said of so many


@dataclass(frozen=True, slots=True)
class Foreseen:
    """What one rule would do, in sentences."""

    too_early: str
    waits: str
    held_back: str


@dataclass(frozen=True, slots=True)
class Agreed:
    """One line of what was agreed: from when, by whom, what, why."""

    from_on: dt.date
    sentence: str
    parts: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class RulePage:
    studio: Studio
    horn: Horn | None
    own: bool  # something other than what stands above it holds: the studio's, or the usual rule
    coming: bool  # … or is to
    asked: Asked  # today
    planned: int
    earliest: dt.date
    history: tuple[Agreed, ...]
    others: tuple[Horn, ...]  # of the studio's page: students with a rule of their own

    @property
    def now(self) -> tuple[str, ...]:
        return rule_words.sentences(self.asked)

    def foresee(self, asked: Asked) -> Foreseen:
        """Try a rule on simulated students with as many tones a day as are set now."""
        return _foreseen(gate_rules.foresee(asked.rule(self.planned), self.horn))


def page(studio: Studio, horn: Horn | None) -> RulePage:
    """A fixed number of queries."""
    rows = list(GateRule.objects.filter(studio=studio).select_related("by", "horn__player__user"))
    mine = [row for row in rows if horn and row.horn_id == horn.pk]
    ours = [row for row in rows if row.horn_id is None]
    earliest = gate_rules.first_day(studio, horn)
    week = weeks.in_force(horn, studio.today()) if horn else None
    today, said = studio.today(), mine if horn else ours
    later = {row.from_on for row in said if row.from_on > today}
    return RulePage(
        studio=studio,
        horn=horn,
        own=gate_rules.holds(said, today) is not None,
        coming=any(gate_rules.holds(said, on) for on in later),
        asked=gate_rules.asked(mine, ours, today),
        planned=slots_of_budget(week.budget_minutes if week else MINUTES[0]),
        earliest=earliest,
        history=tuple(agreed(row) for row in sorted([*mine, *ours], key=lambda row: row.made_at, reverse=True)),
        others=() if horn else _with_own(rows, today),
    )


def agreed(row: GateRule) -> Agreed:
    """One change of a rule, in words that everybody reads."""
    places = {
        "who": row.by.get_short_name() if row.by else _("A teacher"),
        "day": date_words(row.from_on, "j F Y"),
    }
    if row.chosen is None:
        back = _("%(who)s went back to the studio’s rule from %(day)s.")
        usual = _("%(who)s went back to the usual rule for everybody from %(day)s.")
        return Agreed(row.from_on, (back if row.horn_id else usual) % places, (), row.words)
    alone = _("%(who)s changed the rule for this student from %(day)s.")
    everybody = _("%(who)s changed the rule for everybody from %(day)s.")
    asked = Asked(tuple(sorted(row.chosen.items())), tuple(row.ear_stages))
    sentence = (alone if row.horn_id else everybody) % places
    return Agreed(row.from_on, sentence, rule_words.sentences(asked), row.words)


def said(row: GateRule) -> str:
    """The same as one text, for a log."""
    one = agreed(row)
    return " ".join((one.sentence, *one.parts))


def _with_own(rows: list[GateRule], on: dt.date) -> tuple[Horn, ...]:
    of_horn: dict[Horn, list[GateRule]] = {}
    for row in rows:
        if row.horn is not None:
            of_horn.setdefault(row.horn, []).append(row)
    return tuple(horn for horn, own in of_horn.items() if gate_rules.holds(own, on) is not None)


def _foreseen(preview: Preview) -> Foreseen:
    early, held = preview.not_ready_in_100, ALL - round(ALL * preview.ready_through)
    days = preview.ready_wait_days
    return Foreseen(
        too_early=ngettext(
            "With this rule a student who hits 7 of 10 tones would get through within a term in %(n)d of 100 cases.",
            "With this rule a student who hits 7 of 10 tones would get through within a term in %(n)d of 100 cases.",
            early,
        )
        % {"n": early},
        waits=_("A student who hits 9 of 10 waits about %(n)d practice days.") % {"n": days}
        if days
        else _("Most students who hit 9 of 10 would still wait after a term."),
        held_back=ngettext(
            "It holds a student who hits 9 of 10 back for a whole term in %(n)d of 100 cases.",
            "It holds a student who hits 9 of 10 back for a whole term in %(n)d of 100 cases.",
            held,
        )
        % {"n": held},
    )
