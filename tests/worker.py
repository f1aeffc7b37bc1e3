"""The worker's application on the test database: ``celery --app=tests.worker`` of fault and browser tests."""

import os

from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
settings.DATABASES["default"]["NAME"] = os.environ["TESTS_DATABASE"]

from studio.config.celery import app  # noqa: E402  # after the database was named

__all__ = ["app"]
