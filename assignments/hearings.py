"""Who listened to what: whenever somebody else begins with a student's recording, that is written down, for good."""

from __future__ import annotations

from assignments.models import Hearing, Take, Try
from studio.models import User


def note(take: Take, by: User, first_byte: int) -> None:
    """A browser fetches a recording in stretches: its beginning stands for the hearing, or the first stretch that
    somebody ever asks for. Own takes are not noted."""
    if by.pk == take.horn.player.user_id:
        return
    if first_byte == 0 or not Hearing.objects.filter(take=take, by=by).exists():
        Hearing.objects.create(take=take, by=by)


def note_try(heard: Try, by: User) -> None:
    """Somebody played this one tone to its end."""
    Hearing.objects.get_or_create(take=heard.take, about_try=heard, by=by)
