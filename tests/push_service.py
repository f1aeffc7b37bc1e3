"""The other side of web push: a browser that unseals, and a service over TLS on this machine that checks who sends.

Written from the standards with the steps as they are printed there, not from our own sealing and vouching.
"""

from __future__ import annotations

import datetime as dt
import http.server
import ipaddress
import json
import os
import ssl
import struct
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from cryptography import x509
from cryptography.exceptions import InvalidSignature
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.hazmat.primitives.asymmetric.utils import encode_dss_signature
from cryptography.hazmat.primitives.ciphers.aead import AESGCM
from cryptography.hazmat.primitives.kdf.hkdf import HKDF
from cryptography.hazmat.primitives.serialization import Encoding, NoEncryption, PrivateFormat, PublicFormat
from cryptography.x509.oid import NameOID

from assignments.push import base64url


def hkdf(secret: bytes, salt: bytes, info: bytes, length: int) -> bytes:
    return HKDF(hashes.SHA256(), length, salt, info).derive(secret)


def decoded(body: bytes, secret: bytes) -> bytes:
    """RFC 8188, sections 2 and 2.1 to 2.3, with as many records as there are."""
    salt, size, id_length = body[:16], *struct.unpack("!LB", body[16:21])
    records = body[21 + id_length :]
    key, nonce = (
        hkdf(secret, salt, f"Content-Encoding: {name}\0".encode(), length)
        for name, length in (("aes128gcm", 16), ("nonce", 12))
    )
    parts = [records[first : first + size] for first in range(0, len(records), size)]
    text = b""
    for number, part in enumerate(parts):
        own = (int.from_bytes(nonce, "big") ^ number).to_bytes(12, "big")
        plain = AESGCM(key).decrypt(own, part, None).rstrip(b"\0")
        assert plain[-1:] == (b"\x02" if number == len(parts) - 1 else b"\x01")
        text += plain[:-1]
    return text


def point(key: ec.EllipticCurvePublicKey) -> bytes:
    return key.public_bytes(Encoding.X962, PublicFormat.UncompressedPoint)


class Browser:
    """What a browser keeps of a subscription, and what it gives away of it."""

    def __init__(self, key: ec.EllipticCurvePrivateKey | None = None, auth: bytes = b"") -> None:
        self._key = key or ec.generate_private_key(ec.SECP256R1())
        self.public, self.auth = point(self._key.public_key()), auth or os.urandom(16)

    def given(self, endpoint: str) -> dict[str, str]:
        return {
            "endpoint": endpoint,
            "public_key": base64url.encode(self.public),
            "auth": base64url.encode(self.auth),
        }

    def unsealed(self, body: bytes) -> bytes:
        """RFC 8291, sections 3.1 to 3.4."""
        theirs = body[21 : 21 + body[20]]
        shared = self._key.exchange(ec.ECDH(), ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), theirs))
        secret = hkdf(shared, self.auth, b"WebPush: info\0" + self.public + theirs, 32)
        return decoded(body, secret)


def vouched(header: str) -> dict[str, Any] | None:
    """The claims of a token (RFC 8292) if its signature is that of the key beside it."""
    scheme, _space, rest = header.partition(" ")
    fields = dict(part.strip().split("=", 1) for part in rest.split(","))
    signed, _dot, signature = fields["t"].rpartition(".")
    r_and_s = base64url.decode(signature)
    head, claims = (json.loads(base64url.decode(part)) for part in signed.split("."))
    assert (scheme, head["alg"], len(r_and_s)) == ("vapid", "ES256", 64)
    key = ec.EllipticCurvePublicKey.from_encoded_point(ec.SECP256R1(), base64url.decode(fields["k"]))
    der = encode_dss_signature(int.from_bytes(r_and_s[:32], "big"), int.from_bytes(r_and_s[32:], "big"))
    try:
        key.verify(der, signed.encode(), ec.ECDSA(hashes.SHA256()))
    except InvalidSignature:
        return None
    found: dict[str, Any] = claims
    return found


class Service(http.server.ThreadingHTTPServer):
    """Takes messages at ``https://127.0.0.1:…/p/…`` and answers what ``answers`` says next, else 201."""

    daemon_threads = True

    def __init__(self, tls: ssl.SSLContext) -> None:
        super().__init__(("127.0.0.1", 0), _Handler)
        self.socket = tls.wrap_socket(self.socket, server_side=True, do_handshake_on_connect=False)
        self.origin = f"https://127.0.0.1:{self.server_address[1]}"
        self.answers: list[int | str] = []
        self.taken: list[tuple[str, dict[str, str], bytes]] = []  # path, headers, body
        self.closed = threading.Event()

    def handle_error(self, request: Any, client_address: Any) -> None:
        """A caller that hangs up is what some of the tests are about."""


class _Handler(http.server.BaseHTTPRequestHandler):
    server: Service

    def do_POST(self) -> None:  # the library's name
        body = self.rfile.read(int(self.headers["Content-Length"]))
        self.server.taken.append((self.path, dict(self.headers), body))
        answer = self.server.answers.pop(0) if self.server.answers else 201
        if answer == "hangs":
            self.server.closed.wait(20)
            self.wfile.write(b"HTTP/1.1 201 Created\r\n\r\n")
        elif answer == "trickles":
            self._trickle()
        elif answer == "babbles":
            self.wfile.write(b"HTTP/1.1 200 OK\r\n" + b"X-Long: " + b"x" * 200_000)
        else:
            self.send_response(int(answer))
            if answer == 429:
                self.send_header("Retry-After", "1200")
            if answer == 307:
                self.send_header("Location", f"{self.server.origin}/elsewhere")
            self.send_header("Content-Length", "0")
            self.end_headers()

    def _trickle(self) -> None:
        """An answer that comes whole in the end, to whoever is never out of patience."""
        for letter in b"HTTP/1.1 201 Created\r\nX-Long: and so on\r\n\r\n":
            self.wfile.write(bytes([letter]))
            time.sleep(0.4)
            if self.server.closed.is_set():
                return

    def log_message(self, *_words: object) -> None:
        """Nothing: the tests look at what was taken."""


@contextmanager
def serving(folder: Path) -> Iterator[Service]:
    """A service that runs, with a certificate of its own in ``folder``/``push.pem``."""
    certificate = _certificate(folder)
    tls = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    tls.load_cert_chain(certificate)
    service = Service(tls)
    thread = threading.Thread(target=service.serve_forever, args=(0.05,))
    thread.start()
    yield service
    service.closed.set()
    service.shutdown()
    service.server_close()
    thread.join()


def _certificate(folder: Path) -> Path:
    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "a push service of the tests")])
    now = dt.datetime.now(dt.UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - dt.timedelta(days=3650))
        .not_valid_after(now + dt.timedelta(days=3650))
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address("127.0.0.1"))]), critical=False)
        .add_extension(x509.BasicConstraints(ca=True, path_length=None), critical=True)
        .sign(key, hashes.SHA256())
    )
    file = folder / "push.pem"
    secret = key.private_bytes(Encoding.PEM, PrivateFormat.PKCS8, NoEncryption())
    file.write_bytes(made.public_bytes(Encoding.PEM) + secret)
    return file
