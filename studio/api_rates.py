"""How often one person may ask the API: counted by every web process together, in the broker's own Redis.

Each scope's hour begins with its first request and ends by the broker's clock. Each process counts for itself besides,
over the hour that is just past: while the broker is away that is what holds. So a broker that is down refuses nobody
who was not refused before, and opens nothing wider than the number of web processes; recordings come in meanwhile.
"""

from __future__ import annotations

import logging
from functools import cache
from typing import Any
from urllib.parse import parse_qs, urlsplit

from django.conf import settings
from redis import Redis
from redis.backoff import NoBackoff
from redis.exceptions import RedisError
from redis.retry import Retry
from rest_framework.request import Request
from rest_framework.throttling import ScopedRateThrottle

log = logging.getLogger(__name__)

PATIENCE_S = 0.3  # for a broker that does not answer; one next door takes a thousandth of it


class SharedRate(ScopedRateThrottle):
    """The view's ``throttle_scope`` names one of DEFAULT_THROTTLE_RATES."""

    num_requests: int  # in ``duration`` seconds, once the scope is known
    duration: int
    key: str | None = None  # of whoever asks, in a scope; a view without a scope is not counted
    again_in_s: int = 0

    def allow_request(self, request: Request, view: Any) -> bool:
        allowed = super().allow_request(request, view)
        if not allowed or self.key is None:
            return allowed
        try:
            asked, self.again_in_s = _count(self.key, self.duration)
        except (RedisError, OSError) as trouble:  # OSError: the socket file isn't there
            log.warning("rates are counted by each web process alone: %r", trouble)
            return True
        return asked <= self.num_requests

    def wait(self) -> float | None:
        return self.again_in_s or super().wait()


def _count(key: str, within_s: int) -> tuple[int, int]:
    """How many requests that makes in this hour, and in how many seconds the next one begins."""
    broker = _broker(settings.CELERY_BROKER_URL)  # held: a client that is let go shuts the lines of its questions
    with broker.pipeline() as asked:
        asked.set(key, 0, ex=within_s, nx=True)
        asked.incr(key)
        asked.ttl(key)
        _is_new, count, left_s = asked.execute()
    return count, left_s


@cache
def _broker(url: str) -> Redis:
    """``url`` as Celery writes it: a private socket is ``redis+socket:///path?virtual_host=0`` there."""
    patience: dict[str, Any] = {
        "socket_timeout": PATIENCE_S,
        "socket_connect_timeout": PATIENCE_S,
        "retry": Retry(NoBackoff(), 0),
    }
    parts = urlsplit(url)
    if parts.scheme != "redis+socket":
        return Redis.from_url(url, **patience)
    number = int(parse_qs(parts.query).get("virtual_host", ["0"])[0])
    return Redis(unix_socket_path=parts.path, db=number, **patience)
