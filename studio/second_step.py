"""After the passphrase, six digits from a phone in one's pocket: for grown-ups who want it, or whose studio does.

No secret is kept: it is worked out from the row's seed and the site's secret key, which stands in no database and in
no backup. A site that gets another key must turn its second steps off (``manage.py second_step_off``).
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
import time
from base64 import b32encode
from urllib.parse import quote, urlencode

from django.conf import settings
from django.db import transaction

from studio import access_log, codes, one_time_codes, pins, throttle
from studio.access import must_have_second_step
from studio.models import RecoveryCode, SecondStep, User

ISSUER = "Footing"
HOW_MANY_CODES = 10
BY_DIGITS, BY_RECOVERY_CODE = "digits", "recovery code"
What = access_log.What


def is_on(user: User) -> bool:
    return SecondStep.objects.filter(user=user).exists()


def is_for(user: User) -> bool:
    """Grown-ups. A child's door is a slip of paper, or a PIN on a device that a grown-up shares."""
    return is_on(user) or not pins.players().filter(user=user).exists()


def new_seed() -> str:
    return secrets.token_hex(32)


def secret_of(seed: str) -> bytes:
    """What a phone keeps: the seed under the site's key, as long as RFC 4226 asks."""
    key = hashlib.sha256(b"studio.second_step" + settings.SECRET_KEY.encode()).digest()
    return hmac.new(key, seed.encode(), hashlib.sha256).digest()[: one_time_codes.SECRET_BYTES]


def typed_secret(seed: str) -> str:
    """The secret as it is typed into a phone that can't scan: base 32, which 160 bits fill without padding."""
    return b32encode(secret_of(seed)).decode()


def address(user: User, seed: str) -> str:
    """What the drawn code holds: an ``otpauth`` address, as authenticator apps read it."""
    label = quote(f"{ISSUER}:{user.username}", safe=":")
    return f"otpauth://totp/{label}?{urlencode({'secret': typed_secret(seed), 'issuer': ISSUER})}"


def turn_on(user: User, seed: str, typed: str) -> list[str] | None:
    """From now on signing in takes the phone too. Returns recovery codes, shown once; None: the digits were wrong."""
    step = one_time_codes.step_of(secret_of(seed), typed, now_s=time.time(), after=0)
    if step is None:
        return None
    made = _made_codes()
    with transaction.atomic():
        SecondStep.objects.filter(user=user).delete()
        _keep_codes(SecondStep.objects.create(user=user, seed=seed, last_step=step), made)
        access_log.of_account(What.SECOND_STEP_ON, user, by=user)
    return list(made)


def wait_s(user: User) -> int:
    """Seconds until the next code is looked at; 0: now."""
    return throttle.wait_s(str(user.pk), throttle.SECOND_STEP)


@transaction.atomic
def opens(user: User, typed: str) -> str:
    """What was typed, if it opens: the digits of now, or a recovery code. Either is good once; wrong ones are counted.

    Tries at one door come one after another, so that no hundred are looked at together.
    """
    row = SecondStep.objects.select_for_update().filter(user=user).first()
    if row is None or wait_s(user):
        return ""
    step = one_time_codes.step_of(secret_of(row.seed), typed, now_s=time.time(), after=row.last_step)
    if step is not None:
        row.last_step = step
        row.save(update_fields=["last_step"])
        return BY_DIGITS
    if _is_recovery_code(row, typed):
        access_log.of_account(What.RECOVERY_CODE_USED, user, by=user)
        return BY_RECOVERY_CODE
    throttle.note(str(user.pk), throttle.SECOND_STEP)
    if wait_s(user):
        access_log.of_account(What.SECOND_STEP_SHUT, user, by=user)
    return ""


def new_codes(user: User) -> list[str]:
    """Other recovery codes; those on the old paper open nothing any more."""
    made = _made_codes()
    with transaction.atomic():
        row = SecondStep.objects.select_for_update().get(user=user)
        row.recovery_codes.all().delete()
        _keep_codes(row, made)
        access_log.of_account(What.RECOVERY_CODES_MADE, user, by=user)
    return list(made)


@transaction.atomic
def turn_off(user: User, *, by: User | None) -> None:
    """By whoever has it, with a code in hand; by whoever may give that account a new way in (``access.resettable_by``);
    by nobody who is signed in, from the site's own computer."""
    if SecondStep.objects.filter(user=user).delete()[0]:
        access_log.of_account(What.SECOND_STEP_OFF, user, by=by)


def is_owed(user: User) -> bool:
    """Whether something stays shut to ``user`` until they have one."""
    return must_have_second_step(user) and not is_on(user)


def _made_codes() -> dict[str, str]:
    """As they are printed, and what is kept of each. Half a second of hashing: outside of any transaction."""
    made = [codes.make() for _ in range(HOW_MANY_CODES)]
    return {codes.shown(code): codes.hashed(code) for code in made}


def _keep_codes(row: SecondStep, made: dict[str, str]) -> None:
    RecoveryCode.objects.bulk_create(RecoveryCode(second_step=row, code_hash=kept) for kept in made.values())


def _is_recovery_code(row: SecondStep, typed: str) -> bool:
    code = codes.read(typed)
    return bool(code and row.recovery_codes.filter(code_hash=codes.hashed(code)).delete()[0])
