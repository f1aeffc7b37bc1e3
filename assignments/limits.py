"""What a take is held against: the limits that were set, and the day's own soft-to-loud.

Apart from ``settling``, which judges and so loads the numeric libraries: pages draw the same limits without them.
"""

from __future__ import annotations

import datetime as dt

from analysis.core.records import LevelScale, Target
from analysis.core.targets import target_for
from assignments.exercises import Slot
from assignments.models import DayPlan, Take, Week
from studio.models import Horn


def target_of(take: Take, slot: Slot) -> Target:
    """The limits that held on its day: those of the week, and what was moved since."""
    return of_week(take.horn, take.exercise.week, slot, take.on)


def of_week(horn: Horn, week: Week, slot: Slot, on: dt.date) -> Target:
    """The limits that a tone of that horn's week has on a day."""
    lowest, highest = horn.written_range
    return target_for(
        week.level,  # type: ignore[arg-type]  # the model's choices are the table's levels
        slot.written_midi,
        slot.tone,
        lowest=lowest,
        highest=highest,
        changes=week.target_changes,
        partial=slot.partial,
        on=on.isoformat(),
    )


def scale_of(take: Take) -> LevelScale | None:
    """The player's soft-to-loud of that day, if it was checked."""
    plan = DayPlan.objects.filter(horn=take.horn, on=take.on).only("sound_check").first()
    if plan is None or not plan.sound_check:
        return None
    return LevelScale(plan.sound_check["softest_db"], plan.sound_check["loudest_db"])
