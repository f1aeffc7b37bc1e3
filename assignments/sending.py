"""Nudging the worker. Tasks are named, not imported, so that the web process never loads the measuring code."""

from __future__ import annotations

import logging

from celery import chain, current_app, signature
from celery.canvas import Signature
from django.db.models.functions import Now
from kombu.exceptions import OperationalError
from redis.exceptions import RedisError

from analysis.models import Analysis
from studio import tracing

log = logging.getLogger(__name__)

UNREACHABLE = (OperationalError, RedisError, OSError)  # OSError: the socket file isn't there


def send(analysis: Analysis) -> bool:
    """Have one recording measured and settled. A broker that is down costs nothing: the sweeper sends later."""
    sent = _nudge(chain(_task("analysis.measure", analysis), _task("assignments.settle", analysis)), analysis)
    if sent:
        Analysis.objects.filter(pk=analysis.pk).update(sent_at=Now())
    return sent


def send_settle(analysis: Analysis) -> bool:
    """Have a measured recording settled whose chain was lost."""
    return _nudge(_task("assignments.settle", analysis), analysis)


def messages_waiting(queue: str) -> int:
    """How many messages the broker holds there; 0 when it can't be asked (sending will then say so)."""
    try:
        with current_app.connection_for_read() as connection:
            return connection.default_channel.client.llen(queue)
    except UNREACHABLE as trouble:
        log.warning("broker unreachable: %r", trouble)
        return 0


def _task(name: str, analysis: Analysis) -> Signature:
    headers = {tracing.MESSAGE_KEY: tracing.request_id.get()}
    return signature(name, args=[str(analysis.pk)], immutable=True, options={"headers": headers})


def _nudge(work: Signature, analysis: Analysis) -> bool:
    try:
        work.apply_async(retry=False)
    except UNREACHABLE as trouble:
        log.warning("broker unreachable, the sweeper sends later: %r", trouble, extra={"analysis": str(analysis.pk)})
        return False
    return True
