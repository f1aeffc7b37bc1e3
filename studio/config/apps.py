"""Wiring as an application: loads the queue's application with Django, and says what is wrong with the data folder."""

from importlib import import_module

from django.apps import AppConfig
from django.conf import settings
from django.core import checks


class WiringConfig(AppConfig):
    name = "studio.config"
    label = "wiring"

    def ready(self) -> None:
        import_module("studio.config.celery")  # the default application of every task, in every process
        checks.register(data_folder_is_writable)


def data_folder_is_writable(**_: object) -> list[checks.CheckMessage]:
    return [checks.Error(settings.VAR_PROBLEM, id="wiring.E001")] if settings.VAR_PROBLEM else []
