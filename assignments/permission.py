"""Taking permission back: nothing more is recorded, and what was recorded goes. The numbers stay."""

from __future__ import annotations

from django.db import transaction

from analysis import custody, discarding
from assignments import belongings, uploads
from studio import consent
from studio.models import Membership, User


def take_back(*, student: Membership, by: User) -> int:
    """End the permission at once and delete every recording of ``student``, and what was said about them aloud.

    Returns how many recordings there were.
    """
    with transaction.atomic():
        consent.withdraw(student=student, by=by)
        recorded = belongings.recordings(student)
        custody.drop(recorded)
        deleted = discarding.discard(recorded)
    uploads.forget(student.user)
    return deleted
