"""Measuring one recording, in a worker: claim it, hear it, record what was heard."""

from __future__ import annotations

import logging
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile
from threading import Event, Thread
from typing import Any
from uuid import UUID

from celery import shared_task
from celery.signals import worker_process_init
from django.db import connection

from analysis import custody, results
from analysis.audio import LONGEST_S, hear, read_through, warm
from analysis.faults import Fault
from analysis.models import Analysis
from analysis.requests import thawed

log = logging.getLogger(__name__)


@worker_process_init.connect
def have_a_decoder_waiting(**_: object) -> None:
    """In each of the worker's children, before its first take: nobody waits for a decoder to start."""
    warm()


@shared_task(name="analysis.measure")
def measure(analysis_id: str) -> None:
    """Measure one recording once. Arriving twice, or for a recording already held or done, does nothing."""
    token = custody.claim(analysis_id)
    if token is None:
        return
    begun = time.monotonic()
    analysis = Analysis.objects.get(pk=analysis_id)
    try:
        with claim_kept(analysis, token):
            report = heard(analysis)
    except Fault as fault:
        custody.refuse(analysis, token, fault)
        log.info("not measured", extra={"analysis": analysis_id, "code": fault.code})
    except Exception:  # whatever went wrong, the row must not stay claimed; the log has the trace
        log.exception("measuring failed", extra={"analysis": analysis_id})
        custody.hand_back(analysis, token)
    else:
        custody.record(analysis, token, report)
        log.info("measured", extra={"analysis": analysis_id, "seconds": round(time.monotonic() - begun, 3)})


@contextmanager
def claim_kept(analysis: Analysis, token: UUID) -> Iterator[None]:
    """Renew the claim as long as measuring goes on: who stops renewing has died, and is missed within half a minute."""
    over = Event()

    def keep() -> None:
        while not over.wait(custody.RENEW_EVERY_S):
            custody.renew(analysis, token)
        connection.close()  # this thread's own

    keeper = Thread(target=keep, daemon=True)
    keeper.start()
    try:
        yield
    finally:
        over.set()
        keeper.join()


def heard(analysis: Analysis) -> dict[str, Any] | None:
    """The report; of words None, once they were read through. Raises Fault when the file is no sound or too long."""
    if not analysis.spoken:
        return measured(analysis)
    with local_copy(analysis) as path:
        read_through(path, longest_s=analysis.longest_s or LONGEST_S)
    return None


def measured(analysis: Analysis) -> dict[str, Any]:
    """The report on one stored recording. Raises Fault when the file can't be measured."""
    with local_copy(analysis) as path:
        return results.report(hear(path, thawed(analysis.request), longest_s=analysis.longest_s or LONGEST_S))


@contextmanager
def local_copy(analysis: Analysis) -> Iterator[Path]:
    """The recording as a file on this machine, wherever it is stored."""
    try:
        here = Path(analysis.audio.path)
    except NotImplementedError:  # a store elsewhere has no paths
        with NamedTemporaryFile(prefix="footing-") as copy, analysis.audio.open("rb") as stored:
            for chunk in stored.chunks():
                copy.write(chunk)
            copy.flush()
            yield Path(copy.name)
    else:
        yield here
