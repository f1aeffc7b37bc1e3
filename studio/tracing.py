"""Which request is in hand: its id stands in every line of the log, here and in the worker that finishes the work."""

from __future__ import annotations

import re
import uuid
from contextvars import ContextVar

HEADER = "X-Request-ID"
MESSAGE_KEY = "footing_request"  # of a message of the queue
request_id: ContextVar[str] = ContextVar("request_id", default="")


def begin(given: str = "") -> str:
    """Take the id that the proxy or the phone gave, if it is one, else a new one."""
    known = given if re.fullmatch(r"[0-9a-f-]{8,36}", given) else uuid.uuid4().hex
    request_id.set(known)
    return known
