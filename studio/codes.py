"""Codes that are read off paper and typed once: ten letters of 32, which is 50 bits, kept as a slow salted hash."""

from __future__ import annotations

import hashlib
import re
import secrets

from django.conf import settings

ALPHABET = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"  # no I, L, O and U: the first three look like figures
LETTERS = 10
MISREAD = str.maketrans("OIL", "011")
GUESS_COSTS = 2**14  # scrypt's n: 16 MB, about 50 ms


def make() -> str:
    """A new one, by the system's own randomness."""
    return "".join(secrets.choice(ALPHABET) for _ in range(LETTERS))


def shown(code: str) -> str:
    """In two halves, as it is printed: ``7KQ2M-X0B9D``."""
    return f"{code[:5]}-{code[5:]}"


def read(typed: str) -> str:
    """What was meant, whatever the case, the gaps and the letters taken for figures. Empty: that is no code."""
    meant = re.sub(r"[^0-9A-Z]", "", typed.upper()).translate(MISREAD)
    return meant if len(meant) == LETTERS and set(meant) <= set(ALPHABET) else ""


def hashed(code: str) -> str:
    """What is kept of it. One salt for the site, of its secret key: a code is looked up by this, without its row.

    50 bits against scrypt (GUESS_COSTS) and a salt that isn't in the database.
    """
    salt = hashlib.sha256(b"studio.codes" + settings.SECRET_KEY.encode()).digest()
    return hashlib.scrypt(code.encode(), salt=salt, n=GUESS_COSTS, r=8, p=1, dklen=32).hex()
