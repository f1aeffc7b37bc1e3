"""Putting right what processes that died left behind. The queue may forget; the rows don't."""

from __future__ import annotations

import datetime as dt
import json
import logging
import os
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from dataclasses import asdict, dataclass
from itertools import chain, takewhile
from pathlib import Path

from django.conf import settings
from django.core.cache import cache
from django.db.models import Q
from django.db.models.functions import Now

from analysis import custody, discarding
from analysis.models import Analysis
from assignments import keeping, reminders
from assignments.sending import messages_waiting, send, send_settle

log = logging.getLogger(__name__)

RESEND_AFTER = dt.timedelta(seconds=60)
OVER = (Analysis.State.MEASURED, Analysis.State.REFUSED, Analysis.State.FAILED)
TIDY_EVERY_S = 3600
REMIND_EVERY_S = 60
AT_ONCE = 500  # rows a sweep; the next sweep comes soon


@dataclass(frozen=True, slots=True)
class Swept:
    handed_back: int
    sent: int
    settling: int


def sweep() -> Swept:
    """One round: lapsed leases are queued again, forgotten messages sent again, measured takes settled.

    No take waits for the clearing up behind it: that comes afterwards, each part whatever befell another.
    """
    with ExitStack() as afterwards:  # in the reverse of this order
        afterwards.callback(_remind)  # last: a mail server may keep one waiting
        afterwards.callback(_tidy)
        afterwards.callback(discarding.clear)
        swept = Swept(custody.hand_back_lapsed(), _send_forgotten(), _settle_measured())
        _note(swept)
    return swept


def _tidy() -> None:
    if cache.add("tidied", True, TIDY_EVERY_S):
        log.info("tidied: %s", keeping.tidy())


def _remind() -> None:
    if cache.add("reminded", True, REMIND_EVERY_S):
        reminders.send_due()


def note_file() -> Path:
    """What this machine's sweeper did, in all: for the owner's page and for monitoring."""
    return Path(settings.VAR) / "swept.json"


def noted() -> dict[str, int]:
    """What ``note_file`` says. One that a power cut left unfinished says nothing: counting begins again."""
    try:
        counts: dict[str, int] = json.loads(note_file().read_text())
    except (FileNotFoundError, ValueError):
        return {}
    return counts


def _note(swept: Swept) -> None:
    done = asdict(swept)
    if any(done.values()):
        log.info("put right", extra=done)
    before = noted()
    draft = note_file().with_suffix(".draft")
    with draft.open("w") as out:
        json.dump({name: before.get(name, 0) + count for name, count in done.items()}, out)
        out.flush()
        os.fsync(out.fileno())  # else a power cut after the renaming leaves it empty
    draft.replace(note_file())


def _send_forgotten() -> int:
    queued = Analysis.objects.filter(state=Analysis.State.QUEUED)
    long_ago = Q(sent_at__lt=Now() - RESEND_AFTER) | Q(sent_at__gt=Now() + RESEND_AFTER)  # of a clock that ran ahead
    forgotten = queued.filter(Q(sent_at=None) | long_ago).order_by("created_at")
    if not forgotten.exists() or messages_waiting(settings.CELERY_TASK_DEFAULT_QUEUE) >= queued.count():
        return 0  # a long backlog that is all in the queue already must not double itself each minute …
    return _count_while_sent(send, forgotten[:AT_ONCE])


def _settle_measured() -> int:
    """Left by workers that died between measuring and settling; living chains get a quarter minute to finish."""
    a_while_ago = Q(measured_at__lt=Now() - RESEND_AFTER / 4) | Q(measured_at__gt=Now() + RESEND_AFTER)
    over = Analysis.objects.filter(a_while_ago, state__in=OVER)  # by owner: each has an index of what waits
    takes = over.filter(take__isnull=False, take__settled_at=None)
    demonstrations = over.filter(demonstration__isnull=False, demonstration__settled_at=None)
    if messages_waiting(settings.SETTLING_QUEUE) >= takes.count() + demonstrations.count():
        return 0  # … nor one of takes that are measured
    return _count_while_sent(send_settle, chain(takes[:AT_ONCE], demonstrations[:AT_ONCE]))


def _count_while_sent(sending: Callable[[Analysis], bool], rows: Iterable[Analysis]) -> int:
    """Stops at the first that can't be sent."""
    return sum(1 for _ in takewhile(sending, rows))
