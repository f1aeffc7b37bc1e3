"""The possible squeeze of soft tones: what each tone says to it is kept with its try, and looked at day by day.

In the worker, because the comparison is numeric; pages read what stands with the played day.
"""

from __future__ import annotations

import datetime as dt
from dataclasses import asdict
from typing import Any

from analysis.core import squeeze
from analysis.core.records import Measurement
from analysis.core.squeeze_signs import SoftReading
from assignments.exercises import SHAPED, Slot
from assignments.models import DayPlan, PlayedDay, Take, Try
from studio.models import Horn

LOOK_BACK = dt.timedelta(days=21)


def set_up_of(take: Take) -> str:
    """Takes whose phone stood in one place: those of a day, and of days that kept one sound check."""
    plan = DayPlan.objects.filter(horn=take.horn_id, on=take.on).only("sound_check").first()
    check = plan.sound_check if plan else None
    return f"{check['softest_db']} {check['loudest_db']}" if check else take.on.isoformat()


def reading_of(
    slot: Slot, heard: Measurement | None, tone_index: int | None, *, on: dt.date, set_up: str
) -> dict[str, Any] | None:
    """What one plain, readable tone has to say. None for shapes and for what wasn't heard."""
    if heard is None or tone_index is None or slot.tone in SHAPED:
        return None
    tone = next(tone for tone in heard.tones if tone.index == tone_index)
    if not tone.readable:
        return None
    reading = squeeze.reading(tone, on=on.isoformat(), dynamic=slot.tone, set_up=set_up)  # type: ignore[arg-type]
    return asdict(reading)


def look(horn: Horn, on: dt.date) -> None:
    """Compare the last three weeks and write what is found to the day. Call it after ``standings.fold``."""
    rows = Try.objects.filter(
        horn=horn, counts=True, on__gt=on - LOOK_BACK, on__lte=on, soft_reading__isnull=False
    ).values_list("pk", "soft_reading")
    found = squeeze.signs([SoftReading(**_as_kept(reading), key=str(pk)) for pk, reading in rows if reading])
    PlayedDay.objects.filter(horn=horn, on=on).update(squeezes=[_plain(one) for one in found])


def _as_kept(reading: dict[str, Any]) -> dict[str, Any]:
    kept = {name: value for name, value in reading.items() if name != "key"}
    return {**kept, "at_s": tuple(kept["at_s"])}


def _plain(found: squeeze.PossibleSqueeze) -> dict[str, Any]:
    return {
        "written_midi": found.written_midi,
        "days": list(found.days),
        "signs": [{"name": one.name, "on": one.on, "try": one.key, "at_s": list(one.at_s)} for one in found.signs],
    }
