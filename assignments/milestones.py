"""A few recordings that stay past their time: up to a year, and so few that nobody's childhood is archived."""

from __future__ import annotations

import datetime as dt

from django.utils.translation import gettext as _

from assignments.models import Milestone, Take
from assignments.refusals import Refusal
from studio.models import Membership, User

LONGEST = dt.timedelta(days=365)  # as the wording of the permission says
MOST = 12  # of one student at a time


def keep(take: Take, *, by: User) -> Milestone:
    """Keep one recording for a year after it was played. Raises Refusal when its sound is gone, or there are enough."""
    if not take.analysis.audio:
        raise Refusal("no_sound", _("The sound was deleted when its time was over. There is nothing to keep."), 409)
    kept = Milestone.objects.filter(take__horn__player=take.horn.player).exclude(take=take)
    if kept.count() >= MOST:
        raise Refusal("enough_kept", _("Twelve recordings are kept already. Let one of them go first."), 409)
    made, _is_new = Milestone.objects.get_or_create(take=take, defaults={"until_on": take.on + LONGEST, "by": by})
    return made


def let_go_of(student: Membership, key: str) -> None:
    """The same by the family, who agreed to a year and may end it. What isn't there is gone already."""
    if key.isdecimal():
        Milestone.objects.filter(pk=key, take__horn__player=student).delete()


def let_go(take: Take) -> None:
    """From now on it is deleted by age like the others."""
    Milestone.objects.filter(take=take).delete()
