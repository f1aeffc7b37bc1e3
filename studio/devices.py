"""A phone or tablet that several students share: enrolled by a grown-up, known by a secret in its cookie."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Iterable

from django.conf import settings
from django.db import transaction
from django.db.models import Q, QuerySet
from django.http import HttpRequest, HttpResponse

from studio import access_log, pins, sessions
from studio.access import DECIDERS, Role, places_held
from studio.models import Device, Membership, Session, Studio, User

KEPT_S = 400 * 24 * 3600  # the longest that browsers keep a cookie
What = access_log.What


@transaction.atomic
def enrol(*, studio: Studio, by: User, name: str, players: Iterable[Membership]) -> tuple[Device, str]:
    """Make the device in hand a shared one. Its secret goes into a cookie and is kept nowhere else."""
    secret = secrets.token_urlsafe(32)
    device = Device.objects.create(studio=studio, name=name, secret_hash=_hash(secret), enrolled_by=by)
    device.players.set(players)
    access_log.write(What.DEVICE_ENROLLED, studio=studio, who=by)
    return device, secret


@transaction.atomic
def remove(device: Device, *, by: User) -> None:
    """Nobody plays on it any more, and whoever is signed in on it by PIN is out."""
    Session.objects.filter(user__memberships__devices=device, device=device.name).delete()
    access_log.write(What.DEVICE_REMOVED, studio=device.studio, who=by)
    device.delete()


def of_request(request: HttpRequest) -> Device | None:
    """The shared device that asks, if it is one."""
    secret = request.COOKIES.get(cookie_name())
    known = Device.objects.select_related("studio", "enrolled_by")
    return known.filter(secret_hash=_hash(secret)).first() if secret else None


def players(device: Device) -> QuerySet[Membership]:
    """Who may open their pages on it with a PIN: whom the grown-up who enrolled it may let play today.

    Their wards; and whom they teach, if that child plays in no other studio. Somebody who has left, or was parted from
    the child, may have the device at home and know the digits.
    """
    places = places_held(device.enrolled_by, (*DECIDERS, Role.GUARDIAN))
    homes = [place for place in places if place.role == Role.GUARDIAN]
    studios = [place.studio_id for place in places if place.role != Role.GUARDIAN]
    here = pins.players().filter(devices=device)
    taught = pins.of_one_studio(here.filter(studio__in=studios))
    found = here.filter(Q(pk__in=here.filter(guardians__in=homes).values("pk")) | Q(pk__in=taught.values("pk")))
    return found.select_related("user", "studio").order_by("user__name", "pk")


def opens(request: HttpRequest, user: User) -> bool:
    """Whether the device that asks is one on which ``user`` may still play with the PIN that was given."""
    device = of_request(request)
    given_by = sessions.begun_by(request.session)
    return device is not None and players(device).filter(user=user, pin__set_at__lt=given_by).exists()


def remember(answer: HttpResponse, secret: str) -> None:
    """Put the device's secret into the browser in hand; no script can read it."""
    secure = settings.SESSION_COOKIE_SECURE
    answer.set_cookie(cookie_name(), secret, max_age=KEPT_S, secure=secure, httponly=True, samesite="Lax")


def cookie_name() -> str:
    return settings.SESSION_COOKIE_NAME + "-device"


def _hash(secret: str) -> str:
    return hashlib.sha256(secret.encode()).hexdigest()
