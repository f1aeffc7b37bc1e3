"""Who listened to what: every first byte of a student's recording that somebody else was given is written down."""

from __future__ import annotations

from assignments.models import Hearing, Take, Try
from studio.models import User


def note(take: Take, by: User, first_byte: int) -> None:
    """A browser fetches a recording in stretches: its beginning stands for the hearing. Own takes are not noted."""
    if first_byte == 0 and by.pk != take.horn.player.user_id:
        Hearing.objects.create(take=take, by=by)


def note_try(heard: Try, by: User) -> None:
    """Somebody played this one tone to its end."""
    Hearing.objects.get_or_create(take=heard.take, about_try=heard, by=by)
