"""What every test stands on: a folder of its own, a real database, a real broker; and nothing left behind."""

import os
from collections.abc import Iterator
from pathlib import Path

import django
import pytest

from tests import servers

# Where recordings with known truth lie, if there are any: only a test asks, so Django is not told.
os.environ.setdefault("TESTS_REFERENCE_AUDIO", os.environ.get("FOOTING_REFERENCE_AUDIO", ""))
# Before Django reads its settings: whatever the caller's shell holds is not what is tested.
for name in [n for n in os.environ if n.startswith("FOOTING_") or n in ("DATABASE_URL", "REDIS_URL")]:
    del os.environ[name]
# Compiled numeric code is kept between runs: compiling it takes longer than the tests.
os.environ.setdefault("NUMBA_CACHE_DIR", str(Path(__file__).resolve().parents[1] / "var" / "numba"))
os.environ.update(servers.environment())
django.setup()


def pytest_report_header() -> str:
    return f"servers: {os.environ['TESTS_SERVERS']}"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    terminalreporter.write_line(f"Tested on {os.environ['TESTS_SERVERS']}")


@pytest.fixture(autouse=True)
def quick_passwords(settings: object) -> None:
    """Argon2 is slow on purpose; a test that is about it sets it again."""
    settings.PASSWORD_HASHERS = [  # type: ignore[attr-defined] # the settings fixture takes any name
        "django.contrib.auth.hashers.MD5PasswordHasher",
        "django.contrib.auth.hashers.Argon2PasswordHasher",
    ]


@pytest.fixture
def empty_queue() -> Iterator[None]:
    """The broker's queue without anything in it, before the test and after it."""
    from celery import current_app

    def empty() -> None:
        with current_app.connection_for_write() as connection:
            client = connection.default_channel.client
            # Not the bindings: this process declared them once and believes that they are there.
            waiting = [key for key in client.keys("*") if not key.startswith(b"_kombu.binding")]
            client.delete(*waiting or ["nothing"])

    empty()
    yield
    empty()
