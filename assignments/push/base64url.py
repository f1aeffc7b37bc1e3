"""Bytes as text that may stand in an address: RFC 4648, section 5, without padding."""

from __future__ import annotations

import base64
import binascii


def encode(plain: bytes) -> str:
    return base64.urlsafe_b64encode(plain).rstrip(b"=").decode()


def decode(text: str) -> bytes:
    """:raises ValueError: the text is no such thing."""
    try:
        return base64.b64decode(text.encode("ascii") + b"=" * (-len(text) % 4), altchars=b"-_", validate=True)
    except binascii.Error as trouble:
        raise ValueError(str(trouble)) from trouble
