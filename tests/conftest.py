"""What every test is told and given: the servers it runs on, quick passwords, a queue without anything in it."""

import os
from collections.abc import Iterator

import pytest


def pytest_report_header() -> str:
    return f"servers: {os.environ['TESTS_SERVERS']}"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    terminalreporter.write_line(f"Tested on {os.environ['TESTS_SERVERS']}")


@pytest.fixture(autouse=True)
def quick_passwords(settings: object, monkeypatch: pytest.MonkeyPatch) -> None:
    """Argon2 and scrypt are slow on purpose; a test that is about one of them sets it again."""
    from studio import codes

    monkeypatch.setattr(codes, "GUESS_COSTS", 2)
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
