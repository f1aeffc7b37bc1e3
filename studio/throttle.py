"""Tries that opened nothing are counted by address, so that nobody can go through them all. A right one costs nothing:
a whole class joins through one school's address. The counts are rows, so every web process counts together. Letters
that ask somebody whether an address is theirs are counted here too."""

from __future__ import annotations

import datetime as dt
import hashlib

from django.conf import settings
from django.utils import timezone

from studio.models import CodeTry

CODE, SIGN_IN, SECOND_STEP, PASSPHRASE = "code", "sign-in", "second step", "passphrase"
LETTER, SAME_LETTER = "letter", "same letter"  # of one student; of one student to one address
MOST_TRIES = {CODE: 10, SIGN_IN: 50, SECOND_STEP: 5, PASSPHRASE: 5, LETTER: 3, SAME_LETTER: 1}
# Second steps and passphrases are counted by account, not by address.
WITHIN = dt.timedelta(hours=1)


def is_spent(address: str, what: str = CODE) -> bool:
    """Whether so many tries from there were wrong within the hour that no more are looked at."""
    return _lately(address, what).count() >= MOST_TRIES[what]


def wait_s(address: str, what: str = CODE) -> int:
    """Seconds until the next try is looked at; 0: now."""
    place = MOST_TRIES[what] - 1
    tries = _lately(address, what).order_by("-at")[place : place + 1].first()
    return max(1, int((tries.at + WITHIN - timezone.now()).total_seconds())) if tries else 0


def note(address: str, what: str = CODE) -> None:
    """One more wrong try from there. What is older than the hour is forgotten."""
    CodeTry.objects.filter(at__lte=timezone.now() - WITHIN).delete()
    CodeTry.objects.create(address_hash=_hash(address, what))


def _lately(address: str, what: str):  # type: ignore[no-untyped-def]  # a queryset
    return CodeTry.objects.filter(address_hash=_hash(address, what), at__gt=timezone.now() - WITHIN)


def _hash(address: str, what: str) -> str:
    """Enough to count by; the address itself isn't kept."""
    return hashlib.sha256(f"{what} {address} {settings.SECRET_KEY}".encode()).hexdigest()
