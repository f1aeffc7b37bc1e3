"""Which browsers show the notes of a reminder: those that somebody asked on, as long as they are signed in there."""

from __future__ import annotations

import datetime as dt
from uuid import UUID

from django.conf import settings
from django.db import transaction
from django.db.models import Exists, OuterRef, QuerySet
from django.http import Http404
from django.utils import timezone

from assignments.models import Reminder, ReminderDevice
from studio import sessions
from studio.access import Role, is_of_family, memberships, of_family
from studio.models import Membership, Session, User

MOST = 5  # a household's; the longest there is goes for a sixth


def player_for(user: User, membership_id: UUID) -> Membership:
    """The student whose notes ``user`` may have on a device: a ward, or oneself, of age or not. Raises Http404."""
    own = memberships(user, (Role.STUDENT,)).filter(pk=membership_id).first()
    return own or of_family(user, membership_id)


def on_offer(player: Membership) -> Reminder | None:
    """The reminder whose notes may come on a device, where the site's owner has switched that on."""
    return Reminder.objects.filter(player=player, way=Reminder.Way.DEVICE).first() if settings.PUSH else None


def add(
    reminder: Reminder, *, session_key: str, endpoint: str, public_key: str, auth: str, site_key: str, language: str
) -> ReminderDevice:
    """The browser of this sign-in shows the notes from now on; whoever had them there before has them no more."""
    given = {"endpoint": endpoint, "public_key": public_key, "auth": auth, "site_key": site_key, "language": language}
    fresh = {"since_at": timezone.now(), "not_before_at": None, "last_sent_on": reminder.last_sent_on}
    with transaction.atomic():
        ReminderDevice.objects.filter(endpoint=endpoint).exclude(session=session_key).delete()
        device = ReminderDevice.objects.update_or_create(
            reminder=reminder, session_id=session_key, defaults={**given, **fresh}
        )[0]
        newest = reminder.devices.order_by("-since_at", "-pk").values("pk")[:MOST]
        reminder.devices.exclude(pk__in=list(newest.values_list("pk", flat=True))).delete()
    return device


def forget(reminder: Reminder, device_id: int, *, by: User) -> None:
    """Whoever decides at home ends any; somebody else their own."""
    rows = reminder.devices.filter(pk=device_id)
    if not is_of_family(by, reminder.player_id):
        rows = rows.filter(session__user=by)
    if not rows.delete()[0]:
        raise Http404


def forget_signed_out() -> int:
    """Those whose sign-in was ended by code that knows no devices. Returns how many."""
    return ReminderDevice.objects.exclude(Exists(Session.objects.filter(pk=OuterRef("session")))).delete()[0]


def living(reminder: Reminder) -> list[ReminderDevice]:
    """Where somebody is still signed in who may have the notes."""
    now = timezone.now()
    found = _signed_in(reminder, now).select_related("session__user").order_by("since_at", "pk")
    return [one for one in found if one.session.user and _may(one.session.user, reminder.player)]


def waiting(reminder: Reminder, on: dt.date, now: dt.datetime) -> list[ReminderDevice]:
    """The living ones that have had no note on the student's day ``on``, and whose service isn't to be left alone."""
    return [
        one
        for one in living(reminder)
        if one.last_sent_on != on and (one.not_before_at is None or one.not_before_at <= now)
    ]


def go_there(reminder: Reminder) -> bool:
    """Whether its notes go to devices now; if not, they go by e-mail."""
    return settings.PUSH and reminder.way == Reminder.Way.DEVICE and bool(living(reminder))


def _signed_in(reminder: Reminder, now: dt.datetime) -> QuerySet[ReminderDevice]:
    too_old = now - dt.timedelta(seconds=sessions.LONGEST_S)
    return reminder.devices.filter(
        session__expire_date__gt=now, session__begun_at__gt=too_old, session__user__is_active=True
    )


def _may(user: User, player: Membership) -> bool:
    return user.pk == player.user_id or is_of_family(user, player.pk)
