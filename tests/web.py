"""The web process on the test database: ``python -m tests.web``, as ``python -m studio.config.web`` of fault tests."""

import os
import signal

from django.conf import settings

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "studio.config.settings")
settings.DATABASES["default"]["NAME"] = os.environ["TESTS_DATABASE"]

from studio.config import web  # noqa: E402  # after the database was named

if __name__ == "__main__":
    signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background ignores it, and hands that on
    web.main()
