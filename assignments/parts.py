"""A part of an ensemble as an exercise of a week: played, sent and measured like any other, and counted for nothing.

Each week that is in force while the part is asked for gets one exercise that points to it, so that nobody needs a
second way in: it stands in Today beside the run and the overtones.
"""

from __future__ import annotations

import datetime as dt

from django.db import transaction
from django.db.models import Max

from assignments.exercises import Slot
from assignments.models import Exercise, Part, Week
from studio.models import Horn

KIND = "together"  # key of data/exercises.toml


def slots(part: Part) -> tuple[Slot, ...]:
    """The one tone of a part. Needs its chord and horn."""
    return (Slot(0, part.written_midi, part.chord.tone),)


def lay(week: Week, on: dt.date) -> None:
    """Put into ``week`` what its horn plays with others and is still asked for on a day. Twice makes it once."""
    waiting = Part.objects.filter(Part.still_to_play(on), horn=week.horn_id).exclude(exercises__week=week)
    if not waiting.exists():
        return
    with transaction.atomic():
        Horn.objects.select_for_update().get(pk=week.horn_id)  # two phones that open the day lay it one by one
        last = Exercise.objects.filter(week=week).aggregate(last=Max("position"))["last"] or 0
        Exercise.objects.bulk_create(
            Exercise(week=week, position=last + place, kind=KIND, part=part)
            for place, part in enumerate(waiting.order_by("chord__for_on", "chord__set_at"), start=1)
        )
