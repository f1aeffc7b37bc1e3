"""A new studio: whoever has the site's own computer makes it, and its owner comes in with a code."""

from __future__ import annotations

from django.core.exceptions import ValidationError
from django.db import transaction

from studio import invitations
from studio.models import Invitation, Membership, Studio, User


def is_empty() -> bool:
    """Whether nobody is here yet, nor a studio that waits for its owner."""
    return not (User.objects.exists() or Studio.objects.exists())


@transaction.atomic
def found(*, name: str, owner: str, time_zone: str = "") -> tuple[Invitation, str]:
    """Make a studio, or another code for one that nobody owns yet. Returns the owner's code, as ``invite`` does.

    ``time_zone``: left out, it stays as it is. Raises ValidationError, in words: for a time zone that there isn't, for
    a name that is taken, or that can't be kept.
    """
    studio = Studio.objects.filter(name=name).first() or Studio(name=name)
    if Membership.objects.filter(studio=studio, role=Membership.Role.OWNER).exists():
        raise ValidationError(f"There is a studio “{name}” here already, and it has an owner. Take another name.")
    studio.time_zone = time_zone or studio.time_zone
    studio.full_clean()
    User._meta.get_field("name").clean(owner, None)
    studio.save()
    for older in invitations.open_ones(studio):
        invitations.revoke(older, by=None)
    whom = invitations.Whom(role=Membership.Role.OWNER, name=owner)
    return invitations.invite(whom, studio=studio, by=None)
