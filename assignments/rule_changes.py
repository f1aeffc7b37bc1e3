"""Taking another rule for the gate from a day on, and going back to what stands above it."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Mapping
from typing import Any

from django.db import transaction
from django.utils.translation import gettext as _

from assignments import gate
from assignments.exercises import STAGES
from assignments.gate_rules import contradiction, first_day
from assignments.models import GateRule
from assignments.refusals import Refusal
from studio.models import Horn, Studio, User


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

    It speaks with the next day that is played, so no gate opens by this alone. Raises Refusal for a rule that
    contradicts itself or lies outside what a teacher may set, and for a day that was.
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


def back(*, studio: Studio, by: User, horn: Horn | None = None) -> None:
    """To what stands above it as soon as may be; rules that were to begin later never do."""
    earliest = first_day(studio, horn)
    rows = GateRule.objects.filter(studio=studio, horn=horn).order_by("from_on", "made_at")
    last_word = {row.from_on: row.chosen for row in rows}
    begun = [chosen for on, chosen in last_word.items() if on <= earliest]
    days = [earliest] if begun and begun[-1] is not None else []
    days += [on for on, chosen in last_word.items() if on > earliest and chosen is not None]
    with transaction.atomic():
        for on in days:
            agree(studio=studio, horn=horn, by=by, chosen=None, from_on=on)


def _check(chosen: Mapping[str, Any]) -> None:
    try:
        outside = gate.outside_range(gate.rule_from(chosen))
    except gate.RuleError as error:
        raise Refusal("rule_contradicts", contradiction(error.field)) from error
    if set(chosen) & set(outside):
        raise Refusal("rule_out_of_range", _("That is further than a rule may go here. Choose from the lists."))
