"""What is set: last week's choices to begin with, what may be set now, and how soon everything comes round."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _

from assignments import builds, gate, lessons, planner, routines, stages, standings, weeks, words
from assignments.exercises import MINUTES, SHAPED, USUAL_TEMPO
from assignments.models import Week
from assignments.queries import past
from assignments.queries.routines import Block, Round, RoutineView, offered, round_of, view
from assignments.queries.whose import OfOneHorn
from studio.models import Horn

DEFAULT_ROUTINE = "Ground, then overtones"  # of data/routines.toml; a test looks for it


@dataclass(frozen=True, slots=True)
class WeekBlock:
    """One block of the routine that may be laid: shut ones are shown with their reason and can't be chosen."""

    block: Block
    is_open: bool
    reason: str
    chosen: bool

    @property
    def is_foundation(self) -> bool:
        return self.block.kind.key == routines.FOUNDATION


@dataclass(frozen=True, slots=True)
class Chosen:
    """What the form holds when it is opened, or when it comes back with something to change."""

    routine: uuid.UUID
    blocks: Collection[str]  # empty: everything that is open
    budget_minutes: int
    pins: Collection[tuple[int, str]]
    left_out: Collection[int]


@dataclass(frozen=True, slots=True)
class PickCell:
    tone: str
    outcome: str | None
    picked: bool

    @property
    def kind(self) -> str:
        """Of its mark."""
        return self.outcome or "unplayed"

    @property
    def is_shape(self) -> bool:
        return self.tone in SHAPED


@dataclass(frozen=True, slots=True)
class PickRow:
    """One note with the tones that the routine's foundation asks for."""

    written_midi: int
    stands: bool
    short: str
    cells: tuple[PickCell, ...]


@dataclass(frozen=True, slots=True)
class WeekPage(OfOneHorn):
    horn: Horn
    build: str
    on: dt.date
    last: Week | None
    ready_made: tuple[RoutineView, ...]
    own: tuple[RoutineView, ...]
    routine: RoutineView
    blocks: tuple[WeekBlock, ...]  # extension first: the foundation stands at the bottom
    rounds: tuple[Round, ...]  # for this horn, without the notes left out
    chosen: Chosen
    rows: tuple[past.RangeRow, ...]  # the picks stand where today's set usually does
    next_lesson_on: dt.date

    @property
    def pick_rows(self) -> tuple[PickRow, ...]:
        """High to low, for ticking."""
        tones = routines.daily_tones(self.routine.routine)
        return tuple(
            PickRow(
                row.written_midi,
                row.stands,
                row.short,
                tuple(
                    PickCell(tone, cell.outcome if cell else None, (row.written_midi, tone) in self.chosen.pins)
                    for tone in tones
                    for cell in (row.cells.get(tone),)
                ),
            )
            for row in self.rows
        )

    @property
    def focus_slots(self) -> Mapping[int, int]:
        """By minutes: how many tones of a day picks may take."""
        return {one.minutes: sum(planner.lane_of(slot) == "focus" for slot in range(one.slots)) for one in self.rounds}

    @property
    def most_picks(self) -> int:
        return self.focus_slots[self.chosen.budget_minutes]


def begin_with(horn: Horn, last: Week | None, routine: uuid.UUID | None = None) -> dict[str, Any]:
    """Initial values of the form: last week's, from today until the day before the next lesson."""
    on = horn.studio.today()
    same = last is not None and (routine is None or routine == last.routine_id)
    usual = next(pk for pk, row in routines.table().items() if row["name"] == DEFAULT_ROUTINE)
    return {
        "routine": routine or (last.routine_id if last and last.routine_id else usual),
        "blocks": [exercise.kind for exercise in last.exercises.all()] if last and same else [],
        "budget_minutes": last.budget_minutes if last else MINUTES[0],
        "beats_per_minute": last.beats_per_minute if last else USUAL_TEMPO,
        "focus": last.focus if last else "",
        "words": last.words if last else "",
        "starts_on": on,
        "ends_on": weeks.last_day(horn, on),
        "pins": [f"{pin['written_midi']}-{pin['tone']}" for pin in last.pins] if last else [],
        "left_out": last.excluded_written_midi if last else [],
    }


def page(horn: Horn, chosen: Chosen, last: Week | None) -> WeekPage:
    """A fixed number of queries."""
    on = horn.studio.today()
    offer = offered(horn.studio)
    every = (*offer.ready_made, *offer.own)
    routine = next((one for one in every if one.routine.pk == chosen.routine), every[0])
    ladder = standings.ladders([horn], on)[horn.pk]
    tones = routines.daily_tones(routine.routine)
    left_out = tuple(sorted(chosen.left_out))
    return WeekPage(
        horn=horn,
        build=builds.words(horn),
        on=on,
        last=last,
        ready_made=offer.ready_made,
        own=offer.own,
        routine=routine,
        blocks=_blocks(view(routine.routine), ladder, chosen.blocks),
        rounds=tuple(round_of(tones, minutes, horn.written_range, left_out) for minutes in MINUTES),
        chosen=chosen,
        rows=past.range_rows(horn, past.of_horn(horn), ladder[1], chosen.pins),
        next_lesson_on=weeks.last_day(horn, on) + lessons.DAY,
    )


def _blocks(routine: RoutineView, ladder: standings.Ladder, chosen: Collection[str]) -> tuple[WeekBlock, ...]:
    open_stages = {0}
    for stage, standing in ladder.items():
        if standing.state != "open":
            break
        open_stages.add(stage)
    blocks = [
        WeekBlock(
            block=block,
            is_open=block.kind.stage in open_stages,
            reason="" if block.kind.stage in open_stages else _reason(ladder, block.kind.stage),
            chosen=block.kind.stage in open_stages and (not chosen or block.kind.key in chosen),
        )
        for block in routine.blocks
    ]
    return tuple(reversed(blocks))


def _reason(ladder: Mapping[int, gate.Standing], stage: int) -> str:
    """Why a block can't be set, in one sentence."""
    below = next((lower for lower in range(1, stage) if ladder[lower].state != "open"), None)
    if below is not None:
        return _("Waits for the stage below it: %(what)s.") % {"what": stages.title(below)}
    standing = ladder[stage]
    if standing.state == "paused":
        return _("On a pause.")
    if standing.state == "resting":
        return _("After a break: three days on target come first.")
    if standing.state == "ready":
        return _("The rule is met. It waits for your ear.")
    if "teacher_shut" in standing.reasons:
        return _("Shut by hand.")
    return _missing(standing)


def _missing(standing: gate.Standing) -> str:
    rule, window = standing.rule, standing.window
    if not standing.notes_short and window.on_target >= rule.opens_at:  # days are missing, or the teacher said not yet
        return " ".join(words.reasons(standing, "teacher"))
    parts: Sequence[str] = [
        _("%(now)d of %(wanted)d days on target") % {"now": window.on_target, "wanted": rule.opens_at}
        if window.on_target < rule.opens_at
        else "",
        _("%(now)d of %(all)d notes stand")
        % {"now": standing.notes_asked - len(standing.notes_short), "all": standing.notes_asked}
        if standing.notes_short
        else "",
    ]
    return _("Waits: %(what)s, then your yes.") % {"what": ", ".join(part for part in parts if part)}
