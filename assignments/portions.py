"""What ends high notes for a day: small portions, and pain. Asked before playing begins; what was played is kept.

Trade: long soft tones and overtones load lip and jaw most; stopping because something hurts is the right choice.
"""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from assignments import plans, takes
from assignments.models import DayPlan, Exercise, Take
from assignments.refusals import Refusal
from studio.models import Horn

TONES_A_DAY = 15  # of all extension work together: three minutes at twelve seconds a tone (this house's choice)


def may_begin(horn: Horn, exercise: Exercise, on: dt.date, plan: DayPlan | None) -> None:
    """Raise the Refusal that stands against playing this exercise now, if one does. ``plan``: the day's."""
    takes.may_record(horn, exercise, on)
    if plan is not None and plan.stopped_hurting_at:
        raise Refusal("stopped_today", _("You stopped because something hurt. That is enough for today."), 409)
    if not exercise.stage:
        return
    if plans.hurt_lately(horn, on) >= plans.HURTS_HALVE:
        raise Refusal(
            "high_notes_rest", _("Something hurt twice this week. High notes rest. Talk to your teacher first."), 409
        )
    if played_today(horn, on) >= TONES_A_DAY:
        raise Refusal("enough_today", _("That’s enough high notes for today. They grow in small portions."), 409)


def played_today(horn: Horn, on: dt.date) -> int:
    """Tones of extension work that were recorded on a day. One query."""
    asked = Take.objects.filter(horn=horn, on=on, exercise__stage__gt=0).values_list("asked", flat=True)
    return sum(map(len, asked))


def low_notes_first(horn: Horn, exercise: Exercise, on: dt.date) -> bool:
    """Whether high notes are about to be played before anything of the foundation was practised, that day."""
    low = Take.objects.filter(horn=horn, on=on, exercise__stage=0, in_lesson=False)
    return bool(exercise.stage) and not low.exists()
