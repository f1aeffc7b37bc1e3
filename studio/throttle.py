"""Tries that opened nothing are counted, so that nobody can go through them all: codes and sign-ins by address, second
steps and passphrases by account. Letters that ask somebody whether an address is theirs are counted here too.

A right one costs nothing: a whole class joins through one school's address. A household's line has 2⁶⁴ addresses of
version 6: it counts as one. The counts are rows, so every web process counts together.
"""

from __future__ import annotations

import datetime as dt
import hashlib
from ipaddress import IPv6Address, ip_address, ip_network

from django.conf import settings
from django.db.models import QuerySet
from django.http import HttpRequest
from django.utils import timezone

from studio.models import CodeTry

CODE, SIGN_IN, SECOND_STEP, PASSPHRASE = "code", "sign-in", "second step", "passphrase"
LETTER, SAME_LETTER = "letter", "same letter"  # of one student; of one student to one address
MOST_TRIES = {CODE: 10, SIGN_IN: 50, SECOND_STEP: 5, PASSPHRASE: 5, LETTER: 3, SAME_LETTER: 1}
WITHIN = dt.timedelta(hours=1)
LINE_BITS = 64  # of a version 6 address; the rest the household chooses by itself (RFC 6177)


def line_of(request: HttpRequest) -> str | None:
    """The line that a request comes over, as an address. None: over no network."""
    address = request.META.get("REMOTE_ADDR")
    return _line(address) if address else None


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


def may_be_told(address: str, what: str = CODE, *, is_right: bool) -> bool:
    """Whether somebody there learns what came of a try; a wrong one is counted first.

    Asked when it was looked at, which takes a while: of many that came at once, before any of them was counted, no more
    are told than of as many that come one after another.
    """
    if not is_right:
        note(address, what)
    return _lately(address, what).count() < MOST_TRIES[what] + (not is_right)


def _lately(address: str, what: str) -> QuerySet[CodeTry]:
    return CodeTry.objects.filter(address_hash=_hash(address, what), at__gt=timezone.now() - WITHIN)


def _hash(address: str, what: str) -> str:
    """Enough to count by; the address itself isn't kept."""
    return hashlib.sha256(f"{what} {_line(address)} {settings.SECRET_KEY}".encode()).hexdigest()


def _line(address: str) -> str:
    """The first address of its line; what is no address, as it is: some are counted by account."""
    try:
        known = ip_address(address)
    except ValueError:
        return address
    if not isinstance(known, IPv6Address):
        return address
    if known.ipv4_mapped:
        return str(known.ipv4_mapped)
    return str(ip_network((int(known), LINE_BITS), strict=False).network_address)
