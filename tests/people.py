"""The cast: an invented studio on an invented quay. Nobody here is anybody."""

from __future__ import annotations

import datetime as dt

from studio import consent, second_step
from studio.models import Horn, Membership, SecondStep, Studio, User

PASSWORD = "a-tone-a-day"
Role = Membership.Role


STAFF = (Role.OWNER, Role.TEACHER, Role.ASSISTANT)


def studio(name: str = "Lantern Quay Studio", **fields: object) -> Studio:
    """One more studio on the site; who works in one has a second step as soon as there are several."""
    made = Studio.objects.create(name=name, time_zone="Europe/Lisbon", **fields)
    _keep_the_rule_of_a_shared_site()
    return made


def _keep_the_rule_of_a_shared_site() -> None:
    if Studio.objects.count() > 1:
        for user in User.objects.filter(memberships__role__in=STAFF, second_step=None).distinct():
            SecondStep.objects.create(user=user, seed=second_step.new_seed(), last_step=0)


def person(name: str, where: Studio, role: str) -> Membership:
    """Somebody with a membership; the user name is the first word of the name, in small letters."""
    user = User.objects.create_user(username=name.split()[0].lower(), password=PASSWORD, name=name)
    made = Membership.objects.create(user=user, studio=where, role=role, joined_on=dt.date(2025, 9, 1))
    if role in STAFF:
        _keep_the_rule_of_a_shared_site()
    return made


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
