"""Passphrases that an eleven-year-old can read off a slip of paper and type."""

from __future__ import annotations

import secrets
from functools import cache
from pathlib import Path

WORDS = 4  # of 256: 32 bits, against five tries in a quarter of an hour


@cache
def words() -> tuple[str, ...]:
    """256 short English words, none easily taken for another."""
    return tuple((Path(__file__).parent / "data" / "passphrase_words.txt").read_text("utf-8").split())


def make() -> str:
    """A new one, like ``otter-lamp-cedar-plum``, by the system's own randomness."""
    return "-".join(secrets.choice(words()) for _ in range(WORDS))
