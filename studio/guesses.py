"""Passphrases that somebody guessed at: whose door was shut for it is written down, once while it stays shut."""

from __future__ import annotations

from typing import Any

from django.conf import settings
from django.utils import timezone

from studio import access_log
from studio.models import LogRow, User

What = access_log.What


def note(sender: object, *, username: str, **_given: Any) -> None:
    """Told whenever a name is shut to an address. A name that nobody has leaves no trace."""
    user = User.objects.filter(username=username).first()
    if user is None:
        return
    lately = LogRow.objects.filter(what=What.GUESSED_AT, at__gt=timezone.now() - settings.AXES_COOLOFF_TIME)
    if not lately.filter(about_id__in=user.memberships.values("pk")).exists():
        access_log.of_account(What.GUESSED_AT, user, by=None)
