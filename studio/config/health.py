"""What the machine next door asks: is the process alive, and can it do its work?

Each part of readiness is asked in a thread of its own and has DEADLINE_S in all: a part that hangs is
reported as hanging, and is not asked again before it has answered.
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from concurrent.futures import Future, ThreadPoolExecutor, wait
from datetime import timedelta
from functools import cache

from celery import current_app
from django.apps import apps
from django.conf import settings
from django.core.files.storage import default_storage
from django.db import connection
from django.db.migrations.loader import MigrationLoader
from django.db.migrations.recorder import MigrationRecorder
from django.http import HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.views.decorators.http import require_safe

DEADLINE_S = 0.4
OLDEST_WAITING = timedelta(minutes=5)


class NotReadyError(Exception):
    """A part answered, and what it said is not good enough."""


def database() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")


@cache
def shipped() -> frozenset[tuple[str, str]]:
    """The migrations that came with this code. Finding them reads many files, so it is done once."""
    loader = MigrationLoader(connection, load=False)
    loader.load_disk()
    return frozenset(loader.disk_migrations)


def migrations() -> None:
    if shipped() - MigrationRecorder(connection).applied_migrations().keys():
        raise NotReadyError("run: manage.py migrate")


def broker() -> None:
    with current_app.connection_for_write() as queue:
        queue.default_channel.client.ping()


def store() -> None:
    if settings.S3_BUCKET:
        default_storage.exists("readyz")
    else:
        with tempfile.TemporaryFile(dir=settings.MEDIA_ROOT):
            pass


def queue() -> None:
    analyses = apps.get_model("analysis", "Analysis").objects
    if analyses.filter(state="queued", created_at__lt=timezone.now() - OLDEST_WAITING).exists():
        raise NotReadyError("a take has waited for more than 5 minutes: is a worker running?")


PARTS: tuple[Callable[[], None], ...] = (database, migrations, broker, store, queue)
_threads = ThreadPoolExecutor(len(PARTS), thread_name_prefix="ready")
_asked: dict[str, Future[str]] = {}


def _answer(part: Callable[[], None]) -> str:
    """ "ok", or in a word what is wrong; never an address, a path or a secret."""
    try:
        part()
    except NotReadyError as reason:
        return str(reason)
    except Exception as trouble:  # whatever a service throws, the question has an answer
        return type(trouble).__name__
    finally:
        connection.close()  # this thread's own
    return "ok"


def readiness(parts: tuple[Callable[[], None], ...] = PARTS) -> dict[str, str]:
    """Every part's name with "ok" or what is wrong with it, within DEADLINE_S."""
    until = time.monotonic() + DEADLINE_S
    for part in parts:
        if part.__name__ not in _asked:
            _asked[part.__name__] = _threads.submit(_answer, part)
    wait([_asked[part.__name__] for part in parts], timeout=max(0.0, until - time.monotonic()))
    answers = {}
    for part in parts:
        future = _asked[part.__name__]
        answers[part.__name__] = _asked.pop(part.__name__).result() if future.done() else "no answer"
    return answers


@require_safe
def alive(_request: HttpRequest) -> HttpResponse:
    """The process answers. No database, no broker, no disk."""
    return HttpResponse("alive\n", content_type="text/plain")


@require_safe
def ready(_request: HttpRequest) -> JsonResponse:
    """200 when every part works, else 503 with the failing ones named."""
    answers = readiness()
    return JsonResponse(answers, status=200 if set(answers.values()) == {"ok"} else 503)
