"""Six digits that a phone and the site work out from one secret and the clock: RFC 6238 over RFC 4226, with SHA-1."""

from __future__ import annotations

import hashlib
import hmac
import re

STEP_S = 30  # what every authenticator app assumes
DIGITS = 6
EITHER_WAY = 1  # steps that a phone's clock may be off, before or behind
SECRET_BYTES = 20  # RFC 4226, requirement R6: 160 bits


def at(secret: bytes, step: int) -> str:
    """The digits of one step (RFC 4226, section 5.3)."""
    digest = hmac.new(secret, step.to_bytes(8, "big"), hashlib.sha1).digest()
    offset = digest[-1] & 0x0F
    number = int.from_bytes(digest[offset : offset + 4], "big") & 0x7FFF_FFFF
    return f"{number % 10**DIGITS:0{DIGITS}d}"


def read(typed: str) -> str:
    """What was meant, whatever the gaps. Empty: that is no code."""
    meant = re.sub(r"[\s-]", "", typed)
    return meant if re.fullmatch(rf"[0-9]{{{DIGITS}}}", meant) else ""


def step_of(secret: bytes, typed: str, *, now_s: float, after: int) -> int | None:
    """The step whose code was typed, if it is one of now and later than ``after``: a code is good once. None: it isn't.

    ``now_s``: seconds since 1970.
    """
    code, here = read(typed), int(now_s // STEP_S)
    steps = [step for step in range(here - EITHER_WAY, here + EITHER_WAY + 1) if step > max(after, -1)]
    right = [step for step in steps if hmac.compare_digest(at(secret, step), code)]
    return right[0] if right else None
