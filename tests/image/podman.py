"""Podman with a store, networks and settings of its own: nothing of whoever works on this machine is touched."""

from __future__ import annotations

import os
import subprocess
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tests.__main__ import ROOT, is_installed

NEEDED = {
    "podman": "builds the images",
    "runc": "starts containers",
    "catatonit": "the first process in each",
    "netavark": "their network",
    "aardvark-dns": "their names in it",
    "iptables": "the way in from outside",
    "docker-compose": "reads compose.yaml",
}
# The limits of processes and files are those that this machine grants; asking for more is refused in some.
SETTINGS = """
[containers]
default_ulimits = []
[engine]
runtime = "runc"
events_logger = "file"
tmp_dir = "{folder}/tmp"
[network]
network_backend = "netavark"
network_config_dir = "{folder}/networks"
"""
HEALTH_EVERY_S = 5.0  # as compose.yaml asks for of what others wait for
WITHIN_S = 1800


class NotHereError(Exception):
    """Something that is needed cannot be had on this machine: nothing is known of the image then."""


def look_for(needed: dict[str, str]) -> None:
    if os.geteuid() != 0:
        raise NotHereError("it needs root")
    missing = [package for package in needed if not is_installed(package)]
    if missing:
        reasons = ", ".join(f"{package} ({needed[package]})" for package in missing)
        raise NotHereError(f"{reasons} is missing. apt-get install --no-install-recommends {' '.join(missing)}")


class Podman:
    def __init__(self, folder: Path) -> None:
        self.socket = folder / "podman.sock"
        config = folder / "containers.conf"
        config.write_text(SETTINGS.format(folder=folder))
        self.environment = {**os.environ, "CONTAINERS_CONF": str(config), "DOCKER_HOST": f"unix://{self.socket}"}
        self.command = ("podman", "--root", str(folder / "store"), "--runroot", str(folder / "run"))

    def try_to(self, *words: str, **settings: str) -> subprocess.CompletedProcess[str]:
        return self._run((*self.command, *words), settings)

    def do(self, *words: str) -> str:
        return said(self.try_to(*words))

    def compose(self, *words: str, **settings: str) -> str:
        return said(self._run(("docker-compose", "--ansi=never", "--project-name", "footing", *words), settings))

    def _run(self, command: Sequence[str], settings: dict[str, str]) -> subprocess.CompletedProcess[str]:
        environment = {**self.environment, **settings}
        return subprocess.run(
            command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=WITHIN_S, check=False
        )

    @contextmanager
    def answering(self) -> Iterator[None]:
        """Compose can ask it meanwhile, and whoever has a health check is looked after. Leaves nothing behind."""
        over = threading.Event()
        looking = threading.Thread(target=self._look_after, args=(over,))
        with (self.socket.parent / "said").open("wb") as words:
            service = subprocess.Popen(
                [*self.command, "system", "service", "--time=0", self.environment["DOCKER_HOST"]],
                env=self.environment,
                stdout=words,
                stderr=words,
            )
            try:
                while not self.socket.exists():
                    assert service.poll() is None, "Podman does not answer"
                    time.sleep(0.1)
                looking.start()
                yield
            finally:
                over.set()
                if looking.is_alive():
                    looking.join()
                service.terminate()
                service.wait(30)
                self.do("system", "reset", "--force")

    def _look_after(self, over: threading.Event) -> None:
        """Podman leaves the asking to systemd's timers, which are not on every machine."""
        while not over.wait(HEALTH_EVERY_S):
            for name in self.try_to("ps", "--format", "{{.Names}}").stdout.split():
                self.try_to("healthcheck", "run", name)  # one without a check says so


def said(done: subprocess.CompletedProcess[str]) -> str:
    """What a command printed. One that failed is an AssertionError with its last words."""
    assert done.returncode == 0, f"{' '.join(done.args)}\n{(done.stdout + done.stderr)[-4000:]}"
    return done.stdout.strip()
