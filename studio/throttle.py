"""Codes that opened nothing are counted by address, so that nobody can try them all. A right one costs nothing:
a whole class joins through one school's address."""

from __future__ import annotations

import datetime as dt
import hashlib

from django.conf import settings
from django.utils import timezone

from studio.models import CodeTry

MOST_TRIES = 10
WITHIN = dt.timedelta(hours=1)


def is_spent(address: str) -> bool:
    """Whether so many codes from there were wrong within the hour that no more are looked at."""
    return _lately(address).count() >= MOST_TRIES


def wait_s(address: str) -> int:
    """Seconds until the next code is looked at; 0: now."""
    tries = _lately(address).order_by("-at")[MOST_TRIES - 1 : MOST_TRIES].first()
    return max(1, int((tries.at + WITHIN - timezone.now()).total_seconds())) if tries else 0


def note(address: str) -> None:
    """One more wrong code from there. What is older than the hour is forgotten."""
    CodeTry.objects.filter(at__lte=timezone.now() - WITHIN).delete()
    CodeTry.objects.create(address_hash=_hash(address))


def _lately(address: str):  # type: ignore[no-untyped-def]  # a queryset
    return CodeTry.objects.filter(address_hash=_hash(address), at__gt=timezone.now() - WITHIN)


def _hash(address: str) -> str:
    """Enough to count by; the address itself isn't kept."""
    return hashlib.sha256(f"{address} {settings.SECRET_KEY}".encode()).hexdigest()
