"""Where a student stands: derived from what was played and decided, never stored."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable

from assignments import gate
from assignments.exercises import STAGES, slots_of_budget
from assignments.models import Decision, PlayedDay, Try, Week
from studio.models import Horn


def standing(horn: Horn, stage: int = 1, on: dt.date | None = None) -> gate.Standing:
    """One gate of one horn at the end of studio-local day ``on`` (default: today). Three queries."""
    return of_horns([horn], on or horn.studio.today(), stage)[horn.pk]


def is_open(horn: Horn, stage: int, on: dt.date) -> bool:
    """Whether work of ``stage`` may be set and played. A higher stage is open only above open ones."""
    return all(standing(horn, below, on).state == "open" for below in range(1, stage + 1))


def frontier(horn: Horn, on: dt.date | None = None) -> tuple[int, gate.Standing]:
    """The stage that is asked about now: the lowest one that isn't open (the highest when all are), and its standing."""
    for stage in STAGES:
        found = standing(horn, stage, on)
        if not found.is_open:
            break
    return stage, found


def of_horns(horns: Iterable[Horn], on: dt.date, stage: int = 1) -> dict[object, gate.Standing]:
    """The standings of many horns by their keys, with the same three queries as of one."""
    horns = list(horns)
    days = _grouped(PlayedDay.objects.filter(horn__in=horns, on__lte=on).order_by("on"))
    made = _grouped(Decision.objects.filter(horn__in=horns, on__lte=on).order_by("made_at"))
    set_weeks = _grouped(Week.objects.filter(horn__in=horns).order_by("starts_on", "set_at"))
    return {
        horn.pk: gate.evaluate(
            [gate.Day(day.on, bytes(day.counted), day.in_range) for day in days[horn.pk]],
            on=on,
            lowest_written=horn.lowest_written_midi,
            highest_written=horn.highest_keyed_written_midi,
            excluded=_excluded(set_weeks[horn.pk], on),
            rules=_rules(set_weeks[horn.pk]),
            decisions=[
                gate.Decision(decision.on, decision.kind, decision.until_on)
                for decision in made[horn.pk]
                if decision.stage in (None, stage)
            ],
        )
        for horn in horns
    }


def fold(horn: Horn, on: dt.date) -> None:
    """Write down again what the gate reads of one day. Call it with the horn locked, after tries were added."""
    tries = Try.objects.filter(horn=horn, on=on, counts=True).order_by("played_at", "slot")
    played = [gate.Try(row.on, row.written_midi, row.tone, row.outcome) for row in tries]
    for day in gate.days(played, *horn.written_range):
        PlayedDay.objects.update_or_create(
            horn=horn, on=on, defaults={"counted": day.counted, "in_range": day.in_range}
        )


def _grouped(rows) -> defaultdict[object, list]:  # type: ignore[no-untyped-def, type-arg]  # any rows with a horn
    groups: defaultdict[object, list] = defaultdict(list)  # type: ignore[type-arg]
    for row in rows:
        groups[row.horn_id].append(row)
    return groups


def _rules(set_weeks: list[Week]) -> gate.Rule | list[gate.RuleFrom]:
    """A day is judged by how many tones its week asked for; the rest of the rule is the house's."""
    return [
        gate.RuleFrom(week.starts_on, gate.rule_from({"planned": slots_of_budget(week.budget_minutes)}))
        for week in set_weeks
    ] or gate.DEFAULT


def _excluded(set_weeks: list[Week], on: dt.date) -> list[int]:
    """Notes that the week in force leaves out."""
    begun = [week for week in set_weeks if week.starts_on <= on]
    return begun[-1].excluded_written_midi if begun else []
