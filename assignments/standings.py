"""Where a student stands: derived from what was played and decided, never stored."""

from __future__ import annotations

import datetime as dt
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence

from assignments import gate, gate_rules
from assignments.exercises import STAGES
from assignments.models import Decision, GateRule, PlayedDay, Try, Week
from studio.models import Horn

Ladder = Mapping[int, gate.Standing]  # by stage
DAYS_ON_ONE_STAGE = 14  # a house figure: a yes to one stage is not followed at once by a request for the next


def standing(horn: Horn, stage: int = 1, on: dt.date | None = None) -> gate.Standing:
    """One gate of one horn at the end of studio-local day ``on`` (default: today). Four queries."""
    return of_horns([horn], on or horn.studio.today(), stage)[horn.pk]


def is_open(horn: Horn, stage: int, on: dt.date) -> bool:
    """Whether work of ``stage`` may be set and played. A higher stage is open only above open ones."""
    return all(standing(horn, below, on).state == "open" for below in range(1, stage + 1))


def frontier(horn: Horn, on: dt.date | None = None) -> tuple[int, gate.Standing]:
    """The stage that is asked about now, and its standing. Four queries."""
    ladder = ladders([horn], on or horn.studio.today())[horn.pk]
    stage = stage_asked(ladder)
    return stage, ladder[stage]


def stage_asked(ladder: Ladder) -> int:
    """The lowest stage that isn't open; the highest when all are."""
    return next((stage for stage in STAGES if not ladder[stage].is_open), STAGES[-1])


def waits_for_an_ear(ladder: Ladder, on: dt.date) -> bool:
    """Whether a teacher is asked to listen now: the rule is met, and the stage below was open for a fortnight."""
    stage = stage_asked(ladder)
    if ladder[stage].state != "ready":
        return False
    below = ladder[stage - 1].opened_on if stage > 1 else None
    return below is None or (on - below).days >= DAYS_ON_ONE_STAGE


def of_horns(horns: Iterable[Horn], on: dt.date, stage: int = 1) -> dict[object, gate.Standing]:
    """The standings of many horns by their keys, with the same four queries as of one."""
    return {pk: ladder[stage] for pk, ladder in ladders(horns, on, (stage,)).items()}


def ladders(horns: Iterable[Horn], on: dt.date, stages: Sequence[int] = STAGES) -> dict[object, Ladder]:
    """By horn and stage, with the same four queries as of one horn and stage."""
    horns = list(horns)
    days = _grouped(PlayedDay.objects.filter(horn__in=horns, on__lte=on).order_by("on"))
    made = _grouped(Decision.objects.filter(horn__in=horns, on__lte=on).order_by("made_at"))
    set_weeks = _grouped(Week.objects.filter(horn__in=horns).order_by("starts_on", "set_at"))
    agreed = gate_rules.of_horns(horns)
    return {
        horn.pk: {
            stage: _evaluate(horn, on, stage, days[horn.pk], made[horn.pk], set_weeks[horn.pk], agreed)
            for stage in stages
        }
        for horn in horns
    }


def _evaluate(
    horn: Horn,
    on: dt.date,
    stage: int,
    days: Sequence[PlayedDay | gate.Day],
    made: list[Decision],
    set_weeks: list[Week],
    agreed: Sequence[GateRule],
) -> gate.Standing:
    return gate.evaluate(
        [gate.Day(day.on, bytes(day.counted), day.in_range) for day in days],
        on=on,
        lowest_written=horn.lowest_written_midi,
        highest_written=horn.highest_keyed_written_midi,
        excluded=_excluded(set_weeks, on),
        rules=gate_rules.timeline(horn, agreed, set_weeks, stage),
        decisions=[
            gate.Decision(decision.on, decision.kind, decision.until_on)
            for decision in made
            if decision.stage in (None, stage)
        ],
    )


def on_target(horn: Horn, days: Sequence[gate.Day]) -> dict[dt.date, bool | None]:
    """How the rules and pauses of each of these days judge it. Three queries."""
    if not days:
        return {}
    made = list(Decision.objects.filter(horn=horn).order_by("made_at"))
    set_weeks = list(Week.objects.filter(horn=horn).order_by("starts_on", "set_at"))
    stood = _evaluate(horn, max(day.on for day in days), 1, days, made, set_weeks, gate_rules.of_horns([horn]))
    return {verdict.on: verdict.on_target for verdict in stood.days}


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


def _excluded(set_weeks: list[Week], on: dt.date) -> list[int]:
    """Notes that the week in force leaves out."""
    begun = [week for week in set_weeks if week.starts_on <= on]
    return begun[-1].excluded_written_midi if begun else []
