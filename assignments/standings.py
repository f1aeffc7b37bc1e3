"""Where a student stands: derived from what was played and decided, never stored."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import TypeVar

from django.db.models import F, QuerySet

from assignments import gate, gate_rules, known_ladders
from assignments.exercises import STAGES
from assignments.known_ladders import Known, Ladder
from assignments.models import Decision, GateRule, PlayedDay, Try, Week
from studio.models import Horn

OfHorn = TypeVar("OfHorn", Decision, Week)
DAYS_ON_ONE_STAGE = 14  # a house figure: a yes to one stage is not followed at once by a request for the next


def standing(horn: Horn, stage: int = 1, on: dt.date | None = None) -> gate.Standing:
    """One gate of one horn at the end of studio-local day ``on`` (default: today). At most five queries."""
    return of_horns([horn], on or horn.studio.today(), stage)[horn.pk]


def is_open(horn: Horn, stage: int, on: dt.date) -> bool:
    """Whether work of ``stage`` may be set and played. A higher stage is open only above open ones."""
    return all(standing(horn, below, on).state == "open" for below in range(1, stage + 1))


def stage_asked(ladder: Ladder) -> int:
    """The lowest stage that isn't open; the highest when all are."""
    return next((stage for stage in STAGES if not ladder[stage].is_open), STAGES[-1])


def waits_for_an_ear(ladder: Ladder, on: dt.date) -> bool:
    """Whether a teacher is asked to listen now: the rule is met, and the stage below was open for a fortnight."""
    stage = stage_asked(ladder)
    return ladder[stage].state == "ready" and asks_later(ladder, stage, on) is None


def asks_later(ladder: Ladder, stage: int, on: dt.date) -> dt.date | None:
    """The day from which a teacher is asked about this stage, as long as it is still to come."""
    below = ladder[stage - 1].opened_on if stage > 1 else None
    first = below + dt.timedelta(days=DAYS_ON_ONE_STAGE) if below else None
    return first if first and first > on else None


def of_horns(horns: Iterable[Horn], on: dt.date, stage: int = 1) -> dict[object, gate.Standing]:
    """The standings of many horns by their keys, with no more queries than of one."""
    return {pk: ladder[stage] for pk, ladder in ladders(horns, on).items()}


def ladders(horns: Iterable[Horn], on: dt.date) -> dict[object, Ladder]:
    """By horn and stage, with no more queries than of one."""
    return {pk: known.ladder for pk, known in known_of(horns, on).items()}


def known_of(horns: Iterable[Horn], on: dt.date) -> dict[object, Known]:
    """What each horn played, and where it stands. One query when all are known from before; else five."""
    horns = list(horns)
    marks = known_ladders.fingerprints(horns)
    found = {horn.pk: known_ladders.get(horn, on, marks[horn.pk]) for horn in horns}
    new = [horn for horn in horns if found[horn.pk] is None]
    for horn, known in _derived(new, on) if new else ():
        known_ladders.keep(horn, on, marks[horn.pk], known)
        found[horn.pk] = known
    return {pk: known for pk, known in found.items() if known is not None}


def _derived(horns: Sequence[Horn], on: dt.date) -> Iterator[tuple[Horn, Known]]:
    """Each horn's ladder, worked out from everything that was played, decided and set."""
    played = PlayedDay.objects.filter(horn__in=horns, on__lte=on).order_by("on")
    days: defaultdict[object, list[gate.Day]] = defaultdict(list)
    for horn_id, day, counted, in_range in played.values_list("horn", "on", "counted", "in_range"):
        days[horn_id].append(gate.Day(day, bytes(counted), in_range))
    made = _grouped(Decision.objects.filter(horn__in=horns, on__lte=on).order_by("made_at"))
    set_weeks = _grouped(_set_weeks(horns))
    agreed = gate_rules.of_horns(horns)
    for horn in horns:
        key = horn.pk
        yield horn, Known(days[key], _ladder(horn, on, days[key], made[key], set_weeks[key], agreed))


def _set_weeks(horns: Sequence[Horn]) -> QuerySet[Week]:
    fields = ("horn", "starts_on", "set_at", "budget_minutes", "excluded_written_midi")
    return Week.objects.filter(horn__in=horns).order_by("starts_on", "set_at").only(*fields)


def _ladder(
    horn: Horn,
    on: dt.date,
    days: Sequence[gate.Day],
    made: Sequence[Decision],
    set_weeks: Sequence[Week],
    agreed: Sequence[GateRule],
) -> Ladder:
    """Every stage; two of which the same is asked and decided stand alike, and are walked through once."""
    walked: dict[object, gate.Standing] = {}
    ladder = {}
    for stage in STAGES:
        rules = gate_rules.timeline(horn, agreed, set_weeks, stage)
        decided = [gate.Decision(row.on, row.kind, row.until_on) for row in made if row.stage in (None, stage)]
        key = (tuple(rules), tuple(decided))
        if key not in walked:
            walked[key] = _evaluate(horn, on, days, rules, decided, _excluded(set_weeks, on))
        ladder[stage] = walked[key]
    return ladder


def _evaluate(
    horn: Horn,
    on: dt.date,
    days: Sequence[gate.Day],
    rules: Sequence[gate.RuleFrom],
    decisions: Sequence[gate.Decision],
    excluded: Sequence[int],
) -> gate.Standing:
    return gate.evaluate(
        days,
        on=on,
        lowest_written=horn.lowest_written_midi,
        highest_written=horn.highest_keyed_written_midi,
        excluded=excluded,
        rules=rules,
        decisions=decisions,
    )


def on_target(horn: Horn, days: Sequence[gate.Day]) -> dict[dt.date, bool | None]:
    """How the rules and pauses of each of these days judge it. Three queries."""
    if not days:
        return {}
    made = Decision.objects.filter(horn=horn).order_by("made_at")
    ladder = _ladder(
        horn, max(day.on for day in days), days, list(made), list(_set_weeks([horn])), gate_rules.of_horns([horn])
    )
    return {verdict.on: verdict.on_target for verdict in ladder[1].days}


def fold(horn: Horn, on: dt.date) -> None:
    """Write down again what the gate reads of one day. Call it with the horn locked, after tries were added."""
    tries = Try.objects.filter(horn=horn, on=on, counts=True).order_by("played_at", "slot")
    played = [gate.Try(row.on, row.written_midi, row.tone, row.outcome) for row in tries]
    for day in gate.days(played, *horn.written_range):
        told = {"counted": day.counted, "in_range": day.in_range}
        PlayedDay.objects.update_or_create(
            horn=horn, on=on, defaults={**told, "folds": F("folds") + 1}, create_defaults={**told, "folds": 1}
        )


def _grouped(rows: QuerySet[OfHorn]) -> defaultdict[object, list[OfHorn]]:
    groups: defaultdict[object, list[OfHorn]] = defaultdict(list)
    for row in rows:
        groups[row.horn_id].append(row)
    return groups


def _excluded(set_weeks: Sequence[Week], on: dt.date) -> list[int]:
    """Notes that the week in force leaves out."""
    begun = [week for week in set_weeks if week.starts_on <= on]
    return begun[-1].excluded_written_midi if begun else []
