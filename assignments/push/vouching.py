"""Saying to a push service who sends: RFC 8292 (VAPID), a token signed with the site's own key, ES256 (RFC 7518, 3.4).

The key is kept nowhere: it is worked out from the site's secret key. A site that gets another one has another key here
too, and every browser has to be asked again.
"""

from __future__ import annotations

import hashlib
import hmac
import json
from urllib.parse import urlsplit

from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import decode_dss_signature
from cryptography.hazmat.primitives.hashes import SHA256

from assignments.push import base64url, curve

GOOD_FOR_S = 12 * 3600  # at most a day (RFC 8292, 2); half of it leaves room for clocks that differ
HEAD = base64url.encode(b'{"typ":"JWT","alg":"ES256"}')


def key_of_site(secret_key: str) -> ec.EllipticCurvePrivateKey:
    """The same for the same ``secret_key``. 512 bits over the order leave no number of the curve likelier."""
    wide = hmac.digest(secret_key.encode(), b"assignments.push.vouching", hashlib.sha512)
    return ec.derive_private_key(int.from_bytes(wide, "big") % (curve.ORDER - 1) + 1, curve.CURVE)


def public_text(key: ec.EllipticCurvePrivateKey) -> str:
    """What a browser is given when it subscribes: then it takes messages of this site alone."""
    return base64url.encode(curve.of_key(key))


def authorization(endpoint: str, key: ec.EllipticCurvePrivateKey, *, contact: str, now_s: float) -> str:
    """The header for one message to ``endpoint``. ``contact``: an https or mailto address of who runs the site."""
    parts = urlsplit(endpoint)
    claims = {"aud": f"{parts.scheme}://{parts.netloc}", "exp": int(now_s) + GOOD_FOR_S, "sub": contact}
    signed = f"{HEAD}.{base64url.encode(json.dumps(claims, separators=(',', ':')).encode())}"
    r, s = decode_dss_signature(key.sign(signed.encode(), ec.ECDSA(SHA256())))
    signature = base64url.encode(r.to_bytes(32, "big") + s.to_bytes(32, "big"))
    return f"vapid t={signed}.{signature}, k={public_text(key)}"
