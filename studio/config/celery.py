"""The queue's application: every process sends through it, the worker runs it."""

import os
from importlib import import_module

from celery import Celery, Task
from celery.signals import task_prerun, worker_init, worker_process_init
from django.conf import settings

from studio import tracing
from studio.config.lifeline import end_with_parent

os.environ.setdefault("CELERY_SKIP_CHECKS", "1")  # of pages, which a worker never shows and need not load
app = Celery("footing")
app.config_from_object("django.conf:settings", namespace="CELERY")
app.autodiscover_tasks()


@worker_init.connect
def load_the_measuring_code(**_: object) -> None:
    """Once, before the worker's children are forked: they share it and are ready at once."""
    for module in settings.PRELOAD:
        import_module(module)


@worker_process_init.connect
def end_with_the_worker(**_: object) -> None:
    """A child whose worker was killed would finish a take that nobody records."""
    end_with_parent()


@task_prerun.connect
def carry_on_the_request(task: Task, **_: object) -> None:
    """The worker's log lines name the request that the recording came with."""
    tracing.begin(task.request.get(tracing.MESSAGE_KEY) or "")
