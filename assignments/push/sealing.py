"""Sealing a message for one browser, so that nobody on the way can read it: RFC 8291 over RFC 8188 (aes128gcm)."""

from __future__ import annotations

import hmac
import secrets

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.ciphers.aead import AESGCM

from assignments.push import curve

SALT_BYTES = 16  # RFC 8188, 2.1
RECORD_BYTES = 4096  # a message is one record of at most this: what every service takes (RFC 8030, 7.2)


def sealed(text: bytes, *, public: bytes, auth: bytes) -> bytes:
    """``text`` for the browser that holds the other half of ``public`` (65 bytes), and ``auth`` (16 bytes).

    :raises ValueError: ``public`` is no point of the curve.
    """
    ours = ec.generate_private_key(curve.CURVE)
    return sealed_with(text, public=public, auth=auth, ours=ours, salt=secrets.token_bytes(SALT_BYTES))


def sealed_with(text: bytes, *, public: bytes, auth: bytes, ours: ec.EllipticCurvePrivateKey, salt: bytes) -> bytes:
    """The same with what chance decides: the key of this one message, and its salt."""
    our_public = curve.of_key(ours)
    shared = ours.exchange(ec.ECDH(), curve.point(public))
    secret = _mac(_mac(auth, shared), b"WebPush: info\0" + public + our_public + b"\x01")
    return coded(text, secret=secret, salt=salt, key_id=our_public)


def coded(text: bytes, *, secret: bytes, salt: bytes, key_id: bytes) -> bytes:
    """RFC 8188: a head (salt, length of a record, name of the key), then the one record, marked as the last."""
    mixed = _mac(salt, secret)
    key = _mac(mixed, b"Content-Encoding: aes128gcm\0\x01")[:16]
    nonce = _mac(mixed, b"Content-Encoding: nonce\0\x01")[:12]
    head = salt + RECORD_BYTES.to_bytes(4, "big") + len(key_id).to_bytes(1, "big") + key_id
    return head + AESGCM(key).encrypt(nonce, text + b"\x02", None)


def _mac(key: bytes, text: bytes) -> bytes:
    """One step of HKDF (RFC 5869), with SHA-256: its 32 bytes are as many as are ever asked for here."""
    return hmac.digest(key, text, "sha256")
