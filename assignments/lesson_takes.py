"""A take of the lesson: played by the student, recorded by whoever teaches, kept with the note that was made of it.

It is measured and judged like any take and counts for nothing: the day, the gate and the plan follow practice alone.
"""

from __future__ import annotations

import uuid

from django.core.files.base import File
from django.utils import timezone
from django.utils.translation import gettext as _

from assignments import comments, takes, weeks
from assignments.exercises import Slot
from assignments.models import Take, Week
from assignments.refusals import Refusal
from studio import access_log
from studio.models import Horn, User


def record(horn: Horn, *, by: User, written_midi: int, tone: str, audio: File, key: uuid.UUID, words: str = "") -> Take:
    """Keep one tone of today's lesson, with a note that student and family read; ``words`` may be empty.

    Sent twice under one ``key`` it is one. Raises Refusal without permission to record, or while no week was ever set.
    """
    week = may_record(horn)

    def with_note(take: Take) -> None:
        access_log.write(access_log.What.RECORDED, studio=horn.studio, who=by, about=horn.player)
        comments.note(horn, by=by, text=words, take=take)

    return takes.keep(
        horn=horn,
        exercise=week.exercises.get(kind="daily_tones"),
        on=horn.studio.today(),
        slots=(Slot(0, written_midi, tone),),
        client_key=key,
        audio=audio,
        recorder={},
        received_at=timezone.now(),
        in_lesson=True,
        along=with_note,
    )[0]


def may_record(horn: Horn) -> Week:
    """The week whose limits a tone is held against now. Raises the Refusal that stands against recording."""
    takes.has_permission(horn)
    week = weeks.in_force(horn, horn.studio.today()) or weeks.latest(horn)
    if week is None:
        raise Refusal("no_week", _("Set the first week first: it says what a tone is held against."), 409)
    return week
