"""What ends a day's playing: small portions of high notes, a quarter of an hour of all tones, and pain.

Asked before playing begins; what was played is kept.

Trade: long soft tones and overtones load lip and jaw most; never more than fifteen minutes of tone work in one sitting;
stopping because something hurts is the right choice.
"""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from assignments import plans, takes
from assignments.exercises import MINUTES, USUAL_BEATS, kinds, slots_of_budget
from assignments.models import Exercise, Take
from assignments.refusals import Refusal
from studio.models import Horn

SLOTS_A_DAY = slots_of_budget(max(MINUTES))  # twelve seconds each; the day's own tones never ask for more
TONES_A_DAY = 15  # of all extension work together: three minutes at twelve seconds a tone (this house's choice)


def may_begin(horn: Horn, exercise: Exercise, on: dt.date) -> None:
    """Raise the Refusal that stands against playing this exercise now, if one does."""
    takes.may_record(horn, exercise, on)
    hurt_days = plans.hurt_days(horn, on)
    if on in hurt_days:
        raise Refusal("stopped_today", _("You stopped because something hurt. That is enough for today."), 409)
    if exercise.kind == "daily_tones" or exercise.part_id:  # which are short by their own plan, or one tone
        return
    if not plans.slots_beside(exercise):
        raise Refusal(
            "nothing_asked", _("Every note of this is left out for now. Your teacher can take one back in."), 409
        )
    if len(hurt_days) >= plans.HURTS_HALVE:
        raise _rests(exercise)
    if exercise.stage and played_today(horn, on) >= TONES_A_DAY:
        raise Refusal("enough_today", _("That’s enough high notes for today. They grow in small portions."), 409)
    if slots_today(horn, on) >= SLOTS_A_DAY:
        raise Refusal(
            "quarter_of_an_hour",
            _("That’s a quarter of an hour of tones today. Lip and ears rest until tomorrow."),
            409,
        )


def _rests(exercise: Exercise) -> Refusal:
    if exercise.stage:
        words = _("Something hurt twice this week. High notes rest. Talk to your teacher first.")
        return Refusal("high_notes_rest", words, 409)
    words = _("Something hurt twice this week. Long sets rest. Talk to your teacher first.")
    return Refusal("long_sets_rest", words, 409)


def slots_today(horn: Horn, on: dt.date) -> float:
    """Tones that were recorded on a day, a longer one as so many of the usual length. One query."""
    rows = Take.objects.filter(horn=horn, on=on, in_lesson=False).values_list("exercise__kind", "asked")
    return sum(len(asked) * kinds()[kind].beats / USUAL_BEATS for kind, asked in rows)


def played_today(horn: Horn, on: dt.date) -> int:
    """Tones of extension work that were recorded on a day, on whichever horn: it is one lip. One query."""
    rows = Take.objects.filter(horn__player=horn.player_id, on=on, exercise__stage__gt=0)
    return sum(map(len, rows.values_list("asked", flat=True)))


def low_notes_first(horn: Horn, exercise: Exercise, on: dt.date) -> bool:
    """Whether high notes are about to be played before anything of the foundation was practised, that day."""
    low = Take.objects.filter(horn=horn, on=on, exercise__stage=0, in_lesson=False)
    return bool(exercise.stage) and not low.exists()
