"""Coming in with a code from a slip of paper: once, within a fortnight, and only while nobody took it back."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import Any

from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone
from django.utils.translation import gettext as _

from studio import access_log, codes, enrolment, sessions, throttle
from studio.access import DECIDERS, is_resettable_by, place_held
from studio.models import Horn, Invitation, Membership, Studio, User

What = access_log.What
Role = Membership.Role
TOLD = ("studio", "made_by", "ward__user", "member__user")


class CodeRefusedError(Exception):
    """The code opens nothing; the text says what to do. ``wait_s``: no code is looked at from there for so long."""

    def __init__(self, text: str, wait_s: int = 0) -> None:
        super().__init__(text)
        self.text = text
        self.wait_s = wait_s


@dataclass(frozen=True, slots=True, kw_only=True)
class Whom:
    """Who is to come in. ``member``: somebody who has an account already and lost the slip; ``ward``: a guardian's
    child; ``horn``: keywords of ``enrolment.give_horn``; ``ends_on``: a substitute's last day."""

    role: str
    name: str = ""
    member: Membership | None = None
    ward: Membership | None = None
    horn: dict[str, Any] | None = None
    of_age: bool = False
    ends_on: dt.date | None = None


@transaction.atomic
def invite(whom: Whom, *, studio: Studio, by: User | None) -> tuple[Invitation, str]:
    """Make a code for one person. The code itself is kept nowhere: it is shown now, once.

    ``by``: nobody, on the site's own computer, where a new studio's owner gets one.
    """
    code = codes.make()
    made = Invitation.objects.create(
        studio=studio,
        role=whom.role,
        code_hash=codes.hashed(code),
        name=whom.name,
        member=whom.member,
        ward=whom.ward,
        horn=whom.horn,
        of_age=whom.of_age,
        ends_on=whom.ends_on,
        made_by=by,
    )
    access_log.write(What.INVITED, studio=studio, who=by, about=whom.member or whom.ward)
    return made, code


def open_ones(studio: Studio) -> QuerySet[Invitation]:
    """Codes that still open something, the newest first."""
    return _usable().filter(studio=studio).select_related("ward__user", "member__user", "made_by").order_by("-made_at")


@transaction.atomic
def revoke(invitation: Invitation, *, by: User | None) -> None:
    """From now on the code opens nothing."""
    if _usable().filter(pk=invitation.pk).update(revoked_at=timezone.now()):
        access_log.write(What.UNINVITED, studio=invitation.studio, who=by, about=invitation.ward)


def find(typed: str, address: str) -> Invitation:
    """What the code opens. Raises CodeRefusedError, and counts the try, when it opens nothing."""
    if throttle.is_spent(address):
        raise _too_many(address)
    code = codes.read(typed)
    found = _usable().filter(code_hash=codes.hashed(code)).select_related(*TOLD).first() if code else None
    found = found if found and _may_still(found) else None
    if not throttle.may_be_told(address, is_right=found is not None):
        raise _too_many(address)
    if found is None:
        raise CodeRefusedError(
            _("That code opens nothing. Look at it again; if it is older than two weeks, ask for a new one.")
        )
    return found


def _too_many(address: str) -> CodeRefusedError:
    return CodeRefusedError(_("Too many codes that open nothing. Wait a while."), throttle.wait_s(address))


def usable(invitation_id: str) -> Invitation | None:
    """The one that somebody showed the code of a moment ago, if it still opens something."""
    found = _usable().filter(pk=invitation_id).select_related(*TOLD).first()
    return found if found and _may_still(found) else None


@transaction.atomic
def accept(invitation: Invitation, *, name: str, passphrase: str, user: User | None = None) -> Membership:
    """Come in: with a new account, or as ``user`` who has one. Raises CodeRefusedError when somebody was faster."""
    used = _usable().filter(pk=invitation.pk).update(used_at=timezone.now(), name="")
    if not used:
        raise CodeRefusedError(_("This code was used or taken back meanwhile. Ask for a new one."))
    if invitation.member is not None:
        member = invitation.member
        member.user.set_password(passphrase)
        member.user.save(update_fields=["password"])
        sessions.end_all(member.user)  # a phone that is lost as well shows nothing any more, no note either
    else:
        user = user or User.objects.create_user(enrolment.free_username(name), password=passphrase, name=name)
        member = _belong(user, invitation)
    access_log.write(What.JOINED, studio=invitation.studio, who=member.user, about=member)
    return member


def _belong(user: User, invitation: Invitation) -> Membership:
    """A place in the studio; who left one under the same role is there again. Nobody's ends sooner by a code, and who
    agrees for themselves goes on doing so."""
    studio = invitation.studio
    held = place_held(user, studio.pk, (invitation.role,))
    ends_on, of_age = invitation.ends_on, invitation.of_age
    if held is not None:
        ends_on = max(ends_on, held.ends_on) if ends_on and held.ends_on else None
        of_age = of_age or held.of_age
    now = {"ends_on": ends_on, "of_age": of_age, "turned_to_at": timezone.now()}  # the next pages are of it
    member, _is_new = Membership.objects.update_or_create(
        user=user,
        studio=studio,
        role=invitation.role,
        defaults=now,
        create_defaults=now | {"joined_on": studio.today()},
    )
    if invitation.ward is not None:
        member.wards.add(invitation.ward)
    if invitation.horn and not Horn.objects.filter(player=member, put_away_on=None).exists():
        enrolment.give_horn(player=member, **invitation.horn)
    return member


def _may_still(invitation: Invitation) -> bool:
    """Whether whoever made the code could make it today: nobody who left, or decides less by now, keeps a door open;
    nor does a code for a lost slip open an account that has got a place above or elsewhere meanwhile."""
    if invitation.role == Role.OWNER:  # made on the site's own computer, for a studio that nobody owns yet
        return not Membership.objects.filter(studio=invitation.studio, role=Role.OWNER).exists()
    roles = (Role.OWNER,) if invitation.role in (Role.TEACHER, Role.ASSISTANT) else DECIDERS
    if invitation.made_by is None:
        return False
    by = place_held(invitation.made_by, invitation.studio_id, roles)  # a second step they owe is not a child's trouble
    return by is not None and (invitation.member is None or is_resettable_by(by, invitation.member))


def _usable() -> QuerySet[Invitation]:
    return Invitation.objects.filter(used_at=None, revoked_at=None, expires_at__gt=timezone.now())
