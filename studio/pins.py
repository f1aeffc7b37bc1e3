"""Six digits that open one child's pages on a shared device: five wrong ones, and a grown-up sets new ones."""

from __future__ import annotations

from django.contrib.auth.hashers import check_password, make_password
from django.db import transaction
from django.db.models import Exists, F, OuterRef, Q, QuerySet
from django.utils import timezone

from studio import access_log
from studio.models import Membership, Pin, User

MOST_TRIES = 5
Role = Membership.Role
What = access_log.What


def players() -> QuerySet[Membership]:
    """Whose pages a PIN may open: children, which are students who are not of age and have no other place anywhere.

    Who decides for themselves, or teaches too, has more behind the door than six digits are good for.
    """
    more = Membership.objects.filter(Q(of_age=True) | ~Q(role=Role.STUDENT)).values("user")
    children = Membership.objects.filter(role=Role.STUDENT, user__is_staff=False).exclude(user__in=more)
    return children.filter(user__second_step=None)


def of_one_studio(found: QuerySet[Membership]) -> QuerySet[Membership]:
    """Of these, whose account has no place in another studio.

    Who teaches opens no other pages: a PIN shows all that the account may see (``access.resettable_by``).
    """
    elsewhere = Membership.objects.filter(user=OuterRef("user")).exclude(studio=OuterRef("studio"))
    return found.exclude(Exists(elsewhere))


@transaction.atomic
def set_pin(player: Membership, digits: str, *, by: User) -> None:
    """A new PIN; the old one and its wrong tries are forgotten."""
    fresh = {"digits_hash": make_password(digits), "set_at": timezone.now(), "wrong_tries": 0}
    Pin.objects.update_or_create(player=player, defaults=fresh)
    access_log.write(What.PIN_SET, studio=player.studio, who=by, about=player)


def is_locked(player: Membership) -> bool:
    return Pin.objects.filter(player=player, wrong_tries__gte=MOST_TRIES).exists()


def opens(player: Membership, digits: str) -> bool:
    """Whether these are the digits. The try is counted before it is looked at, so that no hundred come at once."""
    if not Pin.objects.filter(player=player, wrong_tries__lt=MOST_TRIES).update(wrong_tries=F("wrong_tries") + 1):
        return False
    pin = Pin.objects.get(player=player)
    if check_password(digits, pin.digits_hash):
        Pin.objects.filter(pk=pin.pk).update(wrong_tries=0)
        return True
    if pin.wrong_tries >= MOST_TRIES:
        access_log.write(What.PIN_LOCKED, studio=player.studio, who=None, about=player)
    return False
