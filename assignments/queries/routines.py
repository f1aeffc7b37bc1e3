"""Routines: what there is to reuse, and how soon everything comes round in it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from assignments import routines
from assignments.exercises import MINUTES, SHAPED, TONE_WORDS, Kind, kinds, routine_kinds, slots_of_budget
from assignments.models import Routine
from assignments.planner.coverage import bounds
from assignments.planner.history import Table
from studio.models import Studio

USUAL_RANGE = (58, 90)  # written B♭3 to F♯6: what a routine is tried on before it is anybody's


@dataclass(frozen=True, slots=True)
class Round:
    """How long a note and a tone wait at most with so many minutes a day. None: too few tones to fill such a day."""

    minutes: int
    slots: int
    note_days: int | None
    tone_days: int | None

    @property
    def sentence(self) -> str:
        if self.note_days is None or self.tone_days is None:
            return _("There aren’t enough different tones for %(minutes)d minutes.") % {"minutes": self.minutes}
        note = ngettext("every practice day", "within %(days)d practice days", self.note_days)
        return _("At %(minutes)d minutes every note comes round %(note)s, every tone within %(tone)d.") % {
            "minutes": self.minutes,
            "note": note % {"days": self.note_days},
            "tone": self.tone_days,
        }


@dataclass(frozen=True, slots=True)
class Block:
    kind: Kind
    title: str
    summary: str
    tones: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RoutineView:
    routine: Routine
    blocks: tuple[Block, ...]  # the foundation first
    rounds: tuple[Round, ...]  # at 5, 10 and 15 minutes
    own: bool

    @property
    def name(self) -> str:
        return self.routine.name if self.own else _(self.routine.name)

    @property
    def summary(self) -> str:
        return self.routine.summary if self.own else _(self.routine.summary)

    @property
    def feasible(self) -> str:
        """Whether, and how soon, everything comes round: one sentence for 5, 10 and 15 minutes."""
        return feasible(self.rounds)

    @property
    def foundation(self) -> tuple[Block, ...]:
        return tuple(block for block in self.blocks if not block.kind.stage)

    @property
    def extension(self) -> tuple[Block, ...]:
        return tuple(block for block in self.blocks if block.kind.stage)


@dataclass(frozen=True, slots=True)
class RoutinesPage:
    ready_made: tuple[RoutineView, ...]
    own: tuple[RoutineView, ...]


def offered(studio: Studio) -> RoutinesPage:
    """One query."""
    views = [view(routine) for routine in routines.offered(studio)]
    return RoutinesPage(tuple(one for one in views if not one.own), tuple(one for one in views if one.own))


@dataclass(frozen=True, slots=True)
class EditingPage:
    """One routine while it is being built."""

    foundation: tuple[tuple[Block, bool], ...]  # whether it is in
    extension: tuple[tuple[Block, bool], ...]
    levels: tuple[tuple[str, bool], ...]
    shapes: tuple[tuple[str, bool], ...]
    rounds: tuple[Round, ...]


def initial(routine: Routine | None, *, is_copy: bool) -> dict[str, Any]:
    """What the form begins with: a routine's own values, a copy's without the name, or the whole daily ground."""
    if routine is None:
        return {"blocks": [routines.FOUNDATION], "tones": list(TONE_WORDS)}
    return {
        "name": "" if is_copy else routine.name,
        "summary": "" if is_copy else routine.summary,
        "blocks": [block["kind"] for block in routine.blocks],
        "tones": list(routines.daily_tones(routine)),
    }


def editing(blocks: Sequence[str], tones: Sequence[str]) -> EditingPage:
    """What can be ticked, what is, and how soon everything would come round. No query."""
    asked = tuple(tone for tone in TONE_WORDS if tone in tones)
    every = [(_block(key, ()), key in blocks) for key in routine_kinds()]
    return EditingPage(
        foundation=tuple(pair for pair in every if not pair[0].kind.stage),
        extension=tuple(pair for pair in every if pair[0].kind.stage),
        levels=tuple((tone, tone in tones) for tone in TONE_WORDS if tone not in SHAPED),
        shapes=tuple((tone, tone in tones) for tone in SHAPED),
        rounds=tuple(round_of(asked, minutes) for minutes in MINUTES) if asked else (),
    )


def view(routine: Routine) -> RoutineView:
    ordered = sorted(routine.blocks, key=lambda block: kinds()[block["kind"]].stage)
    tones = routines.daily_tones(routine)
    return RoutineView(
        routine=routine,
        blocks=tuple(_block(block["kind"], tones) for block in ordered),
        rounds=tuple(round_of(tones, minutes) for minutes in MINUTES),
        own=routine.pk not in routines.table(),
    )


def round_of(
    tones: tuple[str, ...], minutes: int, written_range: tuple[int, int] = USUAL_RANGE, excluded: tuple[int, ...] = ()
) -> Round:
    """The planner's bounds. They hold while every slot has a legal tone: notes x tones >= slots + 2 x tones."""
    slots = slots_of_budget(minutes)
    low, high = written_range
    if set(excluded) >= set(range(low, high + 1)):
        return Round(minutes, slots, None, None)
    table = Table(low, high, tones, excluded)
    if table.cells < slots + 2 * len(table.tones):
        return Round(minutes, slots, None, None)
    return Round(minutes, slots, *bounds(table, slots))


def feasible(rounds: Sequence[Round]) -> str:
    """“Every tone comes round within 31 practice days at 5 minutes a day, 16 at 10, 11 at 15.”"""
    enough = [one for one in rounds if one.tone_days is not None]
    if not enough:
        return _("There aren’t enough different tones here for 5 minutes a day. Add a level or a shape.")
    words = _("Every tone comes round within %(days)d practice days at %(minutes)d minutes a day") % {
        "days": enough[0].tone_days,
        "minutes": enough[0].minutes,
    }
    others = [_("%(days)d at %(minutes)d") % {"days": one.tone_days, "minutes": one.minutes} for one in enough[1:]]
    return ", ".join([words, *others]) + "."


def _block(key: str, tones: tuple[str, ...]) -> Block:
    kind = kinds()[key]
    return Block(kind, _(kind.title), _(kind.summary), tones if kind.counts else ())
