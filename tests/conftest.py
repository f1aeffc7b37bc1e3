"""What every test is told and given: the servers it runs on, quick passwords, a queue without anything in it."""

import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from django.db import connection


def pytest_report_header() -> str:
    return f"servers: {os.environ['TESTS_SERVERS']}"


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    terminalreporter.write_line(f"Tested on {os.environ['TESTS_SERVERS']}")


@pytest.fixture(scope="session")
def migrated(django_test_environment: None, django_db_blocker) -> Path:  # type: ignore[no-untyped-def]  # pytest-django's
    """A database of SQLite with every table and nothing in it, to be copied: migrating takes seconds."""
    from tests import migrated

    with django_db_blocker.unblock():
        return migrated.file()


@pytest.fixture
def var(tmp_path: Path, migrated: Path) -> Path:
    """A data folder with an empty database in it, for a site that a test starts."""
    var = tmp_path / "var"
    var.mkdir()
    shutil.copyfile(migrated, var / "footing.sqlite3")
    return var


@pytest.fixture(scope="session")
def django_db_keepdb() -> bool:
    """On SQLite the tests' database is there before, a copy; it goes with the run's folder."""
    return connection.vendor == "sqlite"


@pytest.fixture(scope="session")
def django_db_modify_db_settings(
    django_db_modify_db_settings_parallel_suffix: None, request: pytest.FixtureRequest
) -> None:
    if connection.vendor == "sqlite":
        shutil.copyfile(request.getfixturevalue("migrated"), connection.settings_dict["TEST"]["NAME"])


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
