"""What is done to a running Footing: kills, a wiped broker, messages twice, a full disk, no database, a wrong clock."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import struct
import subprocess
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

import psutil
from celery import current_app
from kombu.exceptions import OperationalError as BrokerError
from redis.exceptions import RedisError

from tests.faults.serving import Serving

VICTIMS = ("web server", "worker", "worker's child", "sweeper", "broker")
DAY_S = 24 * 3600
UNREACHABLE = (BrokerError, RedisError, OSError)
DISK_BYTES = 400 * 2**20


@contextmanager
def small_disk(folder: Path) -> Iterator[bool]:
    """``folder`` as a file system of its own that can be filled; only root may do that, else it answers no."""
    folder.mkdir(exist_ok=True)
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK_BYTES}", "tmpfs", str(folder)]
    made = os.geteuid() == 0 and subprocess.run(mount, capture_output=True, check=False).returncode == 0
    try:
        yield made
    finally:
        if made:
            subprocess.run(["umount", "--lazy", str(folder)], check=True)


class Clock:
    """The wall clock of every process started with ``environment``; durations stay true. Needs a C compiler."""

    def __init__(self, folder: Path) -> None:
        self._file, library = folder / "clock", folder / "clock.so"
        self.set(0)
        source = Path(__file__).with_name("clock.c")
        command = ["cc", "-shared", "-fPIC", "-O2", "-Wall", "-Werror", "-o", str(library), str(source)]
        self.can_jump = shutil.which("cc") is not None
        if self.can_jump:
            subprocess.run(command, check=True)
        # The name does not begin like a setting of Footing: those that are unknown are refused.
        given = {"LD_PRELOAD": str(library), "TESTS_CLOCK": str(self._file)}
        self.environment = given if self.can_jump else {}

    def set(self, ahead_s: int) -> None:
        with self._file.open("r+b" if self._file.exists() else "wb") as file:
            file.write(struct.pack("=q", ahead_s))


class Trouble:
    """One troublemaker; ``done`` counts what it did."""

    def __init__(self, serving: Serving, var: Path, dice: random.Random) -> None:
        self.serving, self.var, self.dice = serving, var, dice
        self.done: Counter[str] = Counter()

    def kill_somebody(self) -> None:
        victim = self.dice.choice(VICTIMS)
        with suppress(psutil.NoSuchProcess, KeyError, IndexError):
            found = self.serving.children()
            if victim == "worker's child":
                self.dice.choice(found["worker"].children()).kill()
            else:
                found[victim].kill()
            if victim == "broker":
                found[victim].wait(5)
                self._wipe_broker()
                victim = "broker, wiped"
            self.done[f"killed: {victim}"] += 1

    def _wipe_broker(self) -> None:
        """Before the supervisor starts it again, half a second later."""
        shutil.rmtree(self.var / "appendonlydir", ignore_errors=True)
        for name in ("appendonly.aof", "dump.rdb"):
            (self.var / name).unlink(missing_ok=True)

    def repeat_messages(self, analyses: list[Any]) -> None:
        """The queue says the same again, of work that waits, is in hand, or is long done."""
        with suppress(*UNREACHABLE):
            for key in self.dice.sample(analyses, min(3, len(analyses))):
                for name in ("analysis.measure", "assignments.settle"):
                    current_app.send_task(name, args=[str(key)], retry=False)
                    self.done["messages repeated"] += 1

    def fill_disk(self, for_s: float) -> None:
        filler = self.var / "filler"
        with filler.open("wb", buffering=0) as file, suppress(OSError):
            while True:
                file.write(b"\0" * 2**20)
        with filler.open("ab", buffering=0) as file, suppress(OSError):
            while True:
                file.write(b"\0" * 512)
        time.sleep(for_s)
        filler.unlink()
        self.done["disk full"] += 1

    def hold_sqlite(self, for_s: float) -> None:
        """Nobody else may write, for longer than anybody waits: the nearest to a server that is away."""
        line = sqlite3.connect(self.var / "footing.sqlite3", timeout=60, isolation_level=None)
        line.execute("BEGIN IMMEDIATE")
        time.sleep(for_s)
        line.execute("ROLLBACK")
        line.close()
        self.done["database held"] += 1

    def restart_postgres(self, server: Any, away_s: float) -> None:
        os.kill(server.get_pid(), signal.SIGINT)  # its fast shutdown: every session ends
        time.sleep(away_s)
        server.ensure_postgres_running()
        self.done["database restarted"] += 1

    def jump(self, clock: Clock, for_s: float) -> None:
        clock.set(DAY_S)
        time.sleep(for_s)
        clock.set(0)
        self.done["clock a day ahead and back"] += 1
