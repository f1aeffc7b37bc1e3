"""The processes of one machine, kept running: broker, worker, web server and sweeper.

Started in the order in which they need each other, stopped in the reverse: no new work first, the broker last.
"""

from __future__ import annotations

import os
import signal
import socket
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

from django.conf import settings

from studio.config import broker
from studio.config.child import STOP_SIGNALS, Child

TICK_S = 0.2
PYTHON = [sys.executable]
EVERY_ADDRESS = ("0.0.0.0", "::")
SOMEWHERE = {socket.AF_INET: "192.0.2.1", socket.AF_INET6: "2001:db8::1"}  # addresses set aside for examples


class StopAskedError(BaseException):
    """Ctrl-C, SIGTERM or a closed terminal: raised wherever the supervisor happens to be."""


class Supervisor:
    """Starts children, minds them, and stops them. ``say`` is given one sentence at a time."""

    def __init__(self, say: Callable[[str], None], environment: dict[str, str]) -> None:
        self.say = say
        self.environment = environment
        self.children: list[Child] = []
        self._signals = 0

    def catch_signals(self) -> None:
        for number in STOP_SIGNALS:
            signal.signal(number, self._on_signal)

    def _on_signal(self, _number: int, _frame: object) -> None:
        self._signals += 1
        if self._signals == 1:
            raise StopAskedError

    def add(
        self,
        name: str,
        command: Sequence[str],
        stop: tuple[tuple[signal.Signals, float], ...] = ((signal.SIGTERM, 10.0),),
        once: str = "",
    ) -> None:
        child = Child(
            name=name,
            command=list(command),
            log=Path(settings.VAR) / "log" / f"{name.replace(' ', '_')}.log",
            stop=stop,
            environment=self.environment,
            once=once,
        )
        self.children.append(child)
        child.start()

    def has(self, name: str) -> bool:
        return any(child.name == name for child in self.children)

    def mind(self) -> None:
        for child in self.children:
            happened = child.mind(time.monotonic())
            if happened:
                self.say(happened)
        self.children = [child for child in self.children if child.process is not None]

    def run_until(self, done: Callable[[], bool], within_s: float = float("inf")) -> bool:
        """Mind the children until ``done`` or the time is over; answer whether it was done."""
        until = time.monotonic() + within_s
        while not done():
            if time.monotonic() >= until:
                return False
            self.mind()
            time.sleep(TICK_S)
        return True

    def stop(self) -> None:
        """End every child; a second signal meanwhile ends the patience."""
        self._signals = max(self._signals, 1)
        for child in reversed(self.children):
            child.end(hurried=lambda: self._signals > 1)
        self.children.clear()


def broker_command() -> list[str] | None:
    """How to start our own broker, or nothing when REDIS_URL names one.

    :raises LookupError: no Redis server is installed; the message says what to do.
    """
    if settings.REDIS_URL:
        return None
    server = broker.find_server(carried_too=not settings.PRODUCTION)
    if server is None:
        raise LookupError(broker.HOW_TO_GET_ONE)
    return broker.command(server, settings.BROKER_SOCKET, settings.VAR)


def web_command() -> list[str]:
    return [*PYTHON, "-m", "studio.config.web"]


def worker_command() -> list[str]:
    return [
        *PYTHON,
        "-m",
        "celery",
        "--app=studio.config.celery",
        "worker",
        f"--concurrency={settings.WORKERS}",
        "--without-gossip",
        "--without-mingle",
        "--loglevel=INFO",
    ]


def manage_command(*words: str) -> list[str]:
    return [*PYTHON, str(settings.BASE_DIR / "manage.py"), *words]


def reached_at(host: str) -> str:
    """The address by which other machines reach a server that listens on ``host``."""
    if host not in EVERY_ADDRESS:
        return host
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect((SOMEWHERE[family], 9))  # sends nothing: the system only picks the address it would use
        except OSError:  # no network at all
            return "localhost"
        return str(probe.getsockname()[0])


def site_address(host: str, port: int) -> str:
    return f"http://{f'[{host}]' if ':' in host else host}:{port}"


def children_environment(host: str, port: int) -> dict[str, str]:
    """What the children are told beside what this process was told: where the site is reached."""
    given = {
        "DJANGO_SETTINGS_MODULE": "studio.config.settings",
        "PYTHONPATH": str(settings.BASE_DIR),
        "FOOTING_VAR": str(settings.VAR),
        "FOOTING_HOST": host,
        "FOOTING_PORT": str(port),
    }
    if not settings.ORIGINS:
        given["FOOTING_ORIGINS"] = site_address(reached_at(host), port)
    return {**os.environ, **given}
