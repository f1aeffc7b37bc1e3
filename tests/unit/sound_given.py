"""Asking for a recording as a browser does, to its last byte."""

from __future__ import annotations

from django.http import HttpResponseBase
from django.test import Client

from studio.models import User


def status(user: User, address: str) -> int:
    """What ``user`` is answered at the address of a recording."""
    client = Client()
    client.force_login(user)
    answer: HttpResponseBase = client.get(address)
    if answer.streaming:
        b"".join(answer.streaming_content)  # type: ignore[attr-defined]  # a streaming answer; it closes the file
    return answer.status_code
