"""The cast: an invented studio on an invented quay. Nobody here is anybody."""

from __future__ import annotations

import datetime as dt

from studio import consent
from studio.models import Horn, Membership, Studio, User

PASSWORD = "a-tone-a-day"
Role = Membership.Role


def studio(name: str = "Lantern Quay Studio", **fields: object) -> Studio:
    return Studio.objects.create(name=name, time_zone="Europe/Lisbon", **fields)


def person(name: str, where: Studio, role: str) -> Membership:
    """Somebody with a membership; the user name is the first word of the name, in small letters."""
    user = User.objects.create_user(username=name.split()[0].lower(), password=PASSWORD, name=name)
    return Membership.objects.create(user=user, studio=where, role=role, joined_on=dt.date(2025, 9, 1))


def teacher(where: Studio, name: str = "Marisa Oakhanger") -> Membership:
    return person(name, where, Role.TEACHER)


def horn(
    where: Studio, name: str = "Pim Larkspur", kind: str = "alto", *, agreed: bool = True, **fields: object
) -> Horn:
    """A student with a horn; ``agreed``: a grown-up has given permission to record."""
    player = person(name, where, Role.STUDENT)
    if agreed:
        consent.give(student=player, given_by="a grown-up at home", how="paper", logged_by=player.user)
    return Horn.objects.create(player=player, kind=kind, in_use_since_on=dt.date(2025, 9, 1), **fields)
