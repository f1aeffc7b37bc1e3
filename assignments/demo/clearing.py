"""Taking the demo studio away again, with all that its people played and said."""

from __future__ import annotations

from pathlib import Path

from django.conf import settings
from django.db import transaction
from django.db.models import QuerySet

from assignments import demonstrations, erasure
from assignments.demo import cast
from studio.models import Membership, Studio, User


def demo_studio() -> Studio | None:
    return Studio.objects.filter(pk=cast.studio_id()).first()


def newcomers(studio: Studio) -> QuerySet[Membership]:
    """Whoever came into the demo studio beside its cast: perhaps real people."""
    return studio.memberships.exclude(user__username__in=cast.user_names()).select_related("user").order_by("joined_on")


def known_to_everybody() -> list[User]:
    """Whoever of the cast has a place elsewhere, and still the passphrase that every first start prints."""
    cast_here = User.objects.filter(username__in=cast.user_names()).order_by("username")
    return [person for person in cast_here if person.check_password(cast.PASSWORD)]


def clear(studio: Studio) -> None:
    """Erase ``studio`` with everyone in it; who has a place elsewhere too keeps that."""
    for student in studio.memberships.filter(role=Membership.Role.STUDENT).select_related("user", "studio"):
        erasure.erase(student, by=None)
    with transaction.atomic():
        demonstrations.let_go(studio.demonstrations.all())
        staff = list(User.objects.filter(memberships__studio=studio).distinct())
        studio.delete()
        for person in staff:
            erasure.forget_if_nowhere(person)
    for file in (settings.DEMO_SIGN_INS_FILE, settings.DEMO_UNPLAYED_FILE):
        Path(file).unlink(missing_ok=True)
