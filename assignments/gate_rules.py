"""The gate's rule as the studio agreed it: which holds on which day, trying another, and taking it from a day on.

A rule judges the days from its own first day on; what was played before keeps the verdict it had.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from django.db.models import Q
from django.utils.translation import gettext as _

from assignments import gate
from assignments.exercises import MINUTES, STAGES, slots_of_budget
from assignments.models import GateRule, PlayedDay, Week
from assignments.refusals import Refusal
from studio.models import Horn, Studio, User

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
    """What holds on a day: the student's own, else the studio's, else the usual one; of each the last word."""
    for rows in (mine, ours):
        begun = [row for row in rows if row.from_on <= on]
        if begun and begun[-1].chosen is not None:
            return Asked(tuple(sorted(begun[-1].chosen.items())), tuple(begun[-1].ear_stages))
    return Asked()


@lru_cache(maxsize=256)
def _rule(chosen: tuple[tuple[str, Any], ...], planned: int, teacher_confirms: bool) -> gate.Rule:
    return gate.rule_from({**dict(chosen), "planned": planned, "teacher_confirms": teacher_confirms})


def first_day(studio: Studio, horn: Horn | None = None) -> dt.date:
    """The earliest day a change may count from: today, or tomorrow when something was already played today."""
    today = studio.today()
    played = PlayedDay.objects.filter(on=today, horn__player__studio=studio)
    return today + dt.timedelta(days=(played.filter(horn=horn) if horn else played).exists())


def agree(
    *,
    studio: Studio,
    by: User,
    chosen: Mapping[str, Any] | None,
    from_on: dt.date,
    horn: Horn | None = None,
    ear_stages: Iterable[int] = STAGES,
    words: str = "",
) -> GateRule:
    """Take a rule from a day on, for one horn or for the studio. ``chosen`` None: back to what stands above it.

    Raises Refusal for a rule that contradicts itself or lies outside what a teacher may set, and for a day that was.
    """
    if from_on < first_day(studio, horn):
        raise Refusal("day_was_played", _("Days that were played keep their verdict. Choose a later first day."))
    if chosen is not None:
        _check(chosen)
    return GateRule.objects.create(
        studio=studio,
        horn=horn,
        chosen=None if chosen is None else dict(chosen),
        ear_stages=sorted(set(ear_stages)),
        from_on=from_on,
        words=words,
        by=by,
    )


def _check(chosen: Mapping[str, Any]) -> None:
    try:
        outside = gate.outside_range(gate.rule_from(chosen))
    except gate.RuleError as error:
        raise Refusal("rule_contradicts", contradiction(error.field)) from error
    if set(chosen) & set(outside):
        raise Refusal("rule_out_of_range", _("That is further than a rule may go here. Choose from the lists."))


def contradiction(field: str) -> str:
    """What is wrong with a rule, said for the field that says it."""
    words = {
        "shuts_at": _("It would shut where it opens. Choose a lower number to shut at."),
        "opens_at": _("It asks for more days on target than it looks at. Choose fewer, or look at more days."),
        "window_span_days": _("So many practice days don’t fit into so few calendar days. Choose more of these."),
    }
    return words.get(field) or _("This part of the rule can’t be. Choose from the lists.")


def foresee(rule: gate.Rule, horn: Horn | None = None) -> Preview:
    """What the rule would do, simulated for this horn's range. Within two seconds; the same question costs nothing."""
    low, high = horn.written_range if horn else (1, USUAL_NOTES)
    return _foreseen(rule, high - low + 1)


@lru_cache(maxsize=64)
def _foreseen(rule: gate.Rule, notes: int) -> Preview:
    from assignments.preview import preview  # noqa: PLC0415  # numpy comes with the one page that needs it

    return preview(rule, notes=notes, words=USUAL_TONE_WORDS)
