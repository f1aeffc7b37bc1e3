"""Posting to an address that a browser gave: over TLS, to a public machine, within bounds of time and size.

A browser's word is anybody's word. So the name is looked up once and that very address is called; no redirect is
followed; and of the answer only its head is read.
"""

from __future__ import annotations

import ipaddress
import socket
import ssl
import time
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass
from urllib.parse import urlsplit

LONGEST_S = 10.0  # for everything after the name was looked up
MOST_HEAD_BYTES = 16_384
MOST_ENDPOINT_CHARACTERS = 1000  # the longest that is known are under 500
ASSIGNED = ipaddress.ip_network("2000::/3")  # RFC 4291: every IPv6 address of the internet; others lead into houses
IPV4_INSIDE = ipaddress.ip_network("2002::/16")  # RFC 3056: but such a one leads to any IPv4 address


class NotReachedError(OSError):
    """Nothing was sent."""


class NoAnswerError(OSError):
    """It was sent, and whether it arrived nobody says."""


@dataclass(frozen=True, slots=True)
class Answer:
    """``retry_after_s``: how long to wait before the next try, where the service says so in seconds."""

    status: int
    retry_after_s: int = 0


def is_endpoint(url: str) -> bool:
    """Whether ``url`` has the form of a push service's address: https, a host, and no name or fragment with it."""
    if len(url) > MOST_ENDPOINT_CHARACTERS or not url.isascii() or not url.isprintable() or " " in url:
        return False
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        return False
    return parts.scheme == "https" and bool(parts.hostname) and port != 0 and "@" not in parts.netloc and "#" not in url


def is_public(address: str) -> bool:
    """Whether an IP address is one of the open internet: no machine of this house or this network."""
    ip = ipaddress.ip_address(address)
    if ip.version == 6 and (ip not in ASSIGNED or ip in IPV4_INSIDE):
        return False
    return ip.is_global and not ip.is_multicast


def post(endpoint: str, body: bytes, headers: Mapping[str, str]) -> Answer:
    """Send ``body`` and read the head of the answer.

    :raises NotReachedError: the host has no public address, answers no call, or isn't who it says it is.
    :raises NoAnswerError: the line broke, or the time was over, before the answer was there.
    """
    parts = urlsplit(endpoint)
    host = parts.hostname or ""
    until = time.monotonic() + LONGEST_S
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    fields = {"Host": parts.netloc, "Content-Length": str(len(body)), "Connection": "close", **headers}
    head = "".join([f"POST {path} HTTP/1.1\r\n", *(f"{name}: {value}\r\n" for name, value in fields.items()), "\r\n"])
    with closing(_line(host, parts.port or 443, until)) as line:
        try:
            line.settimeout(_left_s(until))
            line.sendall(head.encode("ascii") + body)
            return _answer(line, until)
        except (OSError, ValueError) as trouble:
            raise NoAnswerError(type(trouble).__name__) from trouble


def _line(host: str, port: int, until: float) -> ssl.SSLSocket:
    try:
        found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
        addresses = list(dict.fromkeys(str(where[0]) for *_rest, where in found))
        if not all(map(is_public, addresses)):
            raise NotReachedError("not an address of the open internet")
        return _called(host, addresses, port, until)
    except NotReachedError:
        raise
    except (OSError, ValueError) as trouble:  # a name that can't be one is a ValueError
        raise NotReachedError(type(trouble).__name__) from trouble


def _called(host: str, addresses: list[str], port: int, until: float) -> ssl.SSLSocket:
    """The first address that answers the call; a machine without IPv6 comes to the others at once."""
    trouble: OSError = NotReachedError("no address")
    for address in addresses:
        try:
            plain = socket.create_connection((address, port), timeout=_left_s(until))
        except OSError as refused:
            trouble = refused
            continue
        try:
            plain.settimeout(_left_s(until))
            return ssl.create_default_context().wrap_socket(plain, server_hostname=host)
        except OSError:
            plain.close()
            raise
    raise trouble


def _answer(line: ssl.SSLSocket, until: float) -> Answer:
    """:raises ValueError: what came is no answer."""
    head = b""
    while b"\r\n\r\n" not in head:
        line.settimeout(_left_s(until))
        more = line.recv(4096)
        head += more
        if not more or len(head) > MOST_HEAD_BYTES:
            raise ValueError("no whole head")
    first, *rest = head.split(b"\r\n\r\n")[0].decode("latin-1").split("\r\n")
    version, status, *_words = first.split(" ", 2)
    if not version.startswith("HTTP/1.") or not status.isascii() or not status.isdigit():
        raise ValueError("no HTTP")
    fields = {name.strip().lower(): value.strip() for name, _colon, value in (one.partition(":") for one in rest)}
    wait = fields.get("retry-after", "")
    return Answer(int(status), int(wait) if wait.isascii() and wait.isdigit() else 0)


def _left_s(until: float) -> float:
    """:raises TimeoutError: none."""
    left = until - time.monotonic()
    if left <= 0:
        raise TimeoutError
    return left
