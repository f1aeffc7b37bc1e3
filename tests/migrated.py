"""A database of SQLite with every table and nothing in it: migrated once a run, copied by whoever wants one."""

from __future__ import annotations

import fcntl
import os
from pathlib import Path

from django.core.management import call_command
from django.db import connection


def file() -> Path:
    """No process has it open. The first of this run's that asks makes it, others wait meanwhile."""
    made = Path(os.environ["TESTS_FOLDER"]) / "migrated.sqlite3"
    with made.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)
        if not made.exists():
            half = made.with_suffix(f".{os.getpid()}")
            _migrate(half)
            half.rename(made)
    return made


def _migrate(file: Path) -> None:
    """In this process, which has loaded everything: a command of its own would do so again."""
    named = connection.settings_dict["NAME"]
    connection.close()
    connection.settings_dict["NAME"] = file
    try:
        call_command("migrate", interactive=False, verbosity=0)
    finally:
        connection.close()
        connection.settings_dict["NAME"] = named
