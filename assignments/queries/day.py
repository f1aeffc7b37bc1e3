"""One practice day of one horn: what was asked, what has been recorded of it, and how each tone counted."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from django.utils.translation import ngettext

from assignments import plans
from assignments.exercises import Slot
from assignments.models import DayPlan, Take, Try
from assignments.progress import Progress, progress
from assignments.spelled import capital, spelled
from studio.models import Horn


@dataclass(frozen=True, slots=True)
class DayTone:
    """One tone of the day's plan. ``take`` is None until something was recorded for it."""

    slot: int
    written_midi: int
    tone: str
    why: str
    take: Take | None
    counted: Try | None  # its first readable try, else its last
    progress: Progress | None

    @property
    def outcome(self) -> str | None:
        return self.counted.outcome if self.counted else None


class OfOneDay:
    """A record with the ``tones`` of a day."""

    __slots__ = ()
    tones: tuple[DayTone, ...]

    @property
    def recorded(self) -> int:
        return sum(tone.take is not None for tone in self.tones)

    @property
    def on_the_way(self) -> int:
        return sum(tone.progress is not None and not tone.progress.is_over for tone in self.tones)


def to_go(left: int) -> str:
    """“Seven tones to go”."""
    return ngettext("%(left)s tone to go", "%(left)s tones to go", left) % {"left": capital(spelled(left))}


def plan_of(horn: Horn, on: dt.date) -> DayPlan | None:
    """The day's plan if it was opened: looking back makes none."""
    return DayPlan.objects.filter(horn=horn, on=on).select_related("week__set_by").first()


def takes_of(plan: DayPlan) -> list[Take]:
    """The day's recordings of the daily tones, oldest first, with their tries and analyses. Two queries."""
    rows = Take.objects.filter(horn=plan.horn_id, on=plan.on, exercise__kind="daily_tones", in_lesson=False)
    return list(rows.select_related("analysis").prefetch_related("tries").order_by("received_at", "pk"))


def tones_of(plan: DayPlan, takes: Sequence[Take]) -> tuple[DayTone, ...]:
    """The plan's tones in playing order, each with what became of it."""
    answers: dict[int, list[tuple[Take, Try | None]]] = {}
    for take in takes:
        tries = {row.slot: row for row in take.tries.all()}
        for place, asked in enumerate(take.asked):
            answers.setdefault(asked["slot"], []).append((take, tries.get(place)))
    return tuple(_tone(slot, planned["why"], answers.get(slot.slot, [])) for slot, planned in _asked(plan))


def _asked(plan: DayPlan) -> Iterable[tuple[Slot, dict[str, str]]]:
    return zip(plans.slots(plan), plan.tones, strict=True)


def _tone(slot: Slot, why: str, answers: list[tuple[Take, Try | None]]) -> DayTone:
    readable = [(take, tried) for take, tried in answers if tried and tried.outcome != Try.Outcome.UNREADABLE]
    take, counted = readable[0] if readable else answers[-1] if answers else (None, None)
    return DayTone(slot.slot, slot.written_midi, slot.tone, why, take, counted, progress(take) if take else None)
