"""Footing started for real, as a person does it, on a machine that offers nothing but Python."""

from __future__ import annotations

import http.client
import os
import signal
import socket
import subprocess
import sys
import time
import urllib.request
from collections.abc import Callable, Sequence
from contextlib import closing, suppress
from pathlib import Path

import psutil

ROOT = Path(__file__).resolve().parents[2]
ROLES = {"studio.config.web": "web server", "celery": "worker", "sweep": "sweeper", "redis-server": "broker"}


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])


def wait_until(holds: Callable[[], bool], within_s: float) -> bool:
    until = time.monotonic() + within_s
    while not holds():
        if time.monotonic() > until:
            return False
        time.sleep(0.1)
    return True


def bare_environment(var: Path, **more: str) -> dict[str, str]:
    """No programs on PATH, no home, no services; compiled numeric code is kept, as a second start would find it."""
    return {"PATH": "/nonexistent", "FOOTING_VAR": str(var), "NUMBA_CACHE_DIR": os.environ["NUMBA_CACHE_DIR"], **more}


def run_manage(*arguments: str, var: Path, **more: str) -> subprocess.CompletedProcess[str]:
    """A command that is expected to end by itself."""
    command = [sys.executable, "manage.py", *arguments]
    environment = bare_environment(var, **more)
    return subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=300, check=False)


class Serving:
    """``manage.py serve`` in a process of its own."""

    def __init__(
        self, var: Path, *arguments: str, port: int = 0, program: Sequence[str] = ("manage.py",), **settings: str
    ) -> None:
        self.port = port or free_port()
        self.address = f"http://127.0.0.1:{self.port}"
        self.said = var.with_suffix(".said")
        with self.said.open("wb") as said:
            self.process = subprocess.Popen(
                [sys.executable, *program, "serve", "--no-demo", f"--port={self.port}", *arguments],
                cwd=ROOT,
                env=bare_environment(var, **settings),
                stdout=said,
                stderr=subprocess.STDOUT,
            )

    def wait_until_ready(self, within_s: float = 180) -> None:
        ready = wait_until(lambda: "Footing is ready" in self.words() or self.process.poll() is not None, within_s)
        assert ready, self.words()
        assert self.process.poll() is None, self.words()

    def words(self) -> str:
        return self.said.read_text()

    def children(self) -> dict[str, psutil.Process]:
        """The supervised processes that run, by what they do."""
        found = {}
        for child in psutil.Process(self.process.pid).children():
            with suppress(psutil.NoSuchProcess):
                words = " ".join(child.cmdline())
                found.update({role: child for word, role in ROLES.items() if word in words})
        return found

    def everybody(self) -> list[psutil.Process]:
        return psutil.Process(self.process.pid).children(recursive=True)

    def answers(self, path: str = "/healthz") -> bool:
        with suppress(OSError), urllib.request.urlopen(self.address + path, timeout=20) as answer:
            return bool(answer.status == 200)
        return False

    def ask(self, path: str, **headers: str) -> tuple[int, dict[str, str], str]:
        """Status, headers and text of one request as it stands: no redirect is followed."""
        with closing(http.client.HTTPConnection("127.0.0.1", self.port, timeout=10)) as line:
            line.request("GET", path, headers=headers)
            answer = line.getresponse()
            return answer.status, dict(answer.headers), answer.read().decode()

    def end(self) -> None:
        """Whatever a test left running."""
        if self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            self.process.wait(100)


def gone(processes: list[psutil.Process], within_s: float) -> list[psutil.Process]:
    """Those that still run when the time is over."""
    return psutil.wait_procs(processes, timeout=within_s)[1]
