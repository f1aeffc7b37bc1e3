"""Points of the curve that both standards use, P-256, as 65 bytes: what a browser gives, and what is given to it."""

from __future__ import annotations

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.serialization import Encoding, PublicFormat

CURVE = ec.SECP256R1()
ORDER = 0xFFFFFFFF00000000FFFFFFFFFFFFFFFFBCE6FAADA7179E84F3B9CAC2FC632551  # of P-256: FIPS 186-4, D.1.2.3
POINT_BYTES = 65


def of_key(key: ec.EllipticCurvePrivateKey) -> bytes:
    """The public half of ``key``."""
    return key.public_key().public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


def point(public: bytes) -> ec.EllipticCurvePublicKey:
    """:raises ValueError: no point of the curve, or one in a form that no browser gives."""
    if len(public) != POINT_BYTES:
        raise ValueError("not 65 bytes")
    return ec.EllipticCurvePublicKey.from_encoded_point(CURVE, public)


def is_point(public: bytes) -> bool:
    try:
        point(public)
    except ValueError:
        return False
    return True
