"""What holds for a whole studio. A change is written down; who agreed to fewer days keeps what was agreed to."""

from __future__ import annotations

from django.db import transaction

from studio import access_log
from studio.models import Studio, User

KEEP_DAYS = (7, 180)  # shortest, longest: long enough for two lessons, and not for ever
A4_HZ = (415.0, 466.0)  # a house figure: a semitone either way of 440


@transaction.atomic
def change(studio: Studio, *, by: User) -> None:
    """Keep ``studio`` as it is now."""
    studio.save(update_fields=["name", "time_zone", "a4_hz", "keep_takes_days", "second_step_for_staff"])
    access_log.write(access_log.What.RULES, studio=studio, who=by)
