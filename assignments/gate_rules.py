"""The gate's rule as the studio agreed it: which holds on which day, and trying another.

A rule judges the days from its own first day on; what was played before keeps the verdict it had.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from django.db.models import Q
from django.utils.translation import gettext as _

from assignments import gate
from assignments.exercises import MINUTES, STAGES, slots_of_budget
from assignments.models import GateRule, PlayedDay, Take, Week
from studio.models import Horn, Studio

if TYPE_CHECKING:
    from assignments.preview import Preview

USUAL_NOTES, USUAL_TONE_WORDS = 33, 11  # of a whole horn and the whole daily ground


@dataclass(frozen=True, slots=True)
class Asked:
    """What is asked of somebody: the chosen fields of the rule, and the stages at which a teacher listens."""

    chosen: tuple[tuple[str, Any], ...] = ()
    ear_stages: tuple[int, ...] = STAGES

    def rule(self, planned: int, stage: int = 1) -> gate.Rule:
        """For a day of so many planned tones."""
        return _rule(self.chosen, planned, stage in self.ear_stages)


def of_horns(horns: Iterable[Horn]) -> list[GateRule]:
    """Everything agreed for these horns or for their studios, in the order in which it was said. One query."""
    horns = list(horns)
    studios = {horn.player.studio_id for horn in horns}
    rows = GateRule.objects.filter(Q(horn__in=horns) | Q(horn=None, studio__in=studios))
    return list(rows.select_related("by"))


def timeline(horn: Horn, agreed: Sequence[GateRule], set_weeks: Sequence[Week], stage: int) -> list[gate.RuleFrom]:
    """The rule from each day on which it changed: because of another week's tones a day, or of what was agreed.

    ``agreed`` is in the order in which it was said, ``set_weeks`` in that of their days. Before the first week its
    tones a day hold already.
    """
    mine = [row for row in agreed if row.horn_id == horn.pk]
    ours = [row for row in agreed if row.horn_id is None and row.studio_id == horn.player.studio_id]
    budgets = {week.starts_on: week.budget_minutes for week in set_weeks}
    minutes = set_weeks[0].budget_minutes if set_weeks else MINUTES[0]
    rules: list[gate.RuleFrom] = []
    for on in sorted({dt.date.min, *budgets, *(row.from_on for row in (*mine, *ours))}):
        minutes = budgets.get(on, minutes)
        rule = asked(mine, ours, on).rule(slots_of_budget(minutes), stage)
        if not rules or rules[-1].rule != rule:
            rules.append(gate.RuleFrom(on, rule))
    return rules


def asked(mine: Sequence[GateRule], ours: Sequence[GateRule], on: dt.date) -> Asked:
    """What holds on a day: the student's own, else the studio's, else the usual one."""
    return holds(mine, on) or holds(ours, on) or Asked()


def holds(rows: Sequence[GateRule], on: dt.date) -> Asked | None:
    """Of one owner's rows the one that began last, of one first day the last word; None where that went back."""
    begun = sorted((row for row in rows if row.from_on <= on), key=lambda row: (row.from_on, row.made_at))
    if not begun or begun[-1].chosen is None:
        return None
    return Asked(tuple(sorted(begun[-1].chosen.items())), tuple(begun[-1].ear_stages))


@lru_cache(maxsize=256)
def _rule(chosen: tuple[tuple[str, Any], ...], planned: int, teacher_confirms: bool) -> gate.Rule:
    return gate.rule_from({**dict(chosen), "planned": planned, "teacher_confirms": teacher_confirms})


def first_day(studio: Studio, horn: Horn | None = None) -> dt.date:
    """The earliest day a change may count from: today, or tomorrow when something was already played today.

    A recording that waits to be measured counts as played, and a run or overtones too: they are judged by the same.
    One of the lesson counts for nothing.
    """
    today = studio.today()
    whose = {"horn": horn} if horn else {"horn__player__studio": studio}
    played = (Take.objects.filter(in_lesson=False), PlayedDay.objects.all())
    is_played = any(rows.filter(on=today, **whose).exists() for rows in played)
    return today + dt.timedelta(days=is_played)


def contradiction(field: str) -> str:
    """What is wrong with a rule, said for the field that says it."""
    words = {
        "shuts_at": _("It would shut where it opens. Choose a lower number to shut at."),
        "opens_at": _("It asks for more days on target than it looks at. Choose fewer, or look at more days."),
        "window_span_days": _("So many practice days don’t fit into so few calendar days. Choose more of these."),
    }
    return words.get(field) or _("This part of the rule can’t be. Choose from the lists.")


def foresee(rule: gate.Rule, horn: Horn | None = None) -> Preview:
    """What the rule would do, simulated for this horn's range. Within a second; the same question costs nothing."""
    low, high = horn.written_range if horn else (1, USUAL_NOTES)
    return _foreseen(rule, high - low + 1)


@lru_cache(maxsize=64)
def _foreseen(rule: gate.Rule, notes: int) -> Preview:
    from assignments.preview import preview  # noqa: PLC0415  # numpy comes with the one page that needs it

    return preview(rule, notes=notes, words=USUAL_TONE_WORDS)
