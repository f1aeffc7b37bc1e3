"""The site of compose.yaml: started as it says, asked, stopped."""

from __future__ import annotations

import secrets
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from typing import Any

import yaml

from tests import servers
from tests.__main__ import ROOT
from tests.faults.serving import wait_until
from tests.image.podman import NotHereError, Podman
from tests.image.visitor import Visitor

SITE = "https://tones.example.org"
READY_WITHIN_S = 180.0
STILL_AT_IT_S = 0.3  # after the signal to stop
GRACE = {"web": 30, "worker": 90, "sweeper": 10}
ENDS_BY = {"sweeper": "143"}  # the signal itself ends it: what it has in hand is a transaction
HEALTHY_WITHIN_S = 60.0


def services() -> dict[str, Any]:
    found: dict[str, Any] = yaml.safe_load((ROOT / "compose.yaml").read_text())["services"]
    return found


class Site:
    def __init__(self, podman: Podman) -> None:
        self.podman = podman
        address, port, _inside = services()["web"]["ports"][0].split(":")
        self.door = address, int(port)
        if servers.answers(self.door[1]):
            raise NotHereError(f"something else answers on port {port} already, where compose.yaml lets people in")
        self.token = secrets.token_urlsafe(32)
        self.settings = {
            "FOOTING_SECRET_KEY": secrets.token_urlsafe(64),
            "FOOTING_ORIGINS": SITE,
            "FOOTING_TRUSTED_PROXY": "127.0.0.1",  # until the network is there
            "FOOTING_METRICS_TOKEN": self.token,
            "POSTGRES_PASSWORD": secrets.token_hex(16),
        }

    def compose(self, *words: str) -> str:
        return self.podman.compose(*words, **self.settings)

    def inside(self, service: str, *command: str) -> str:
        return self.compose("exec", "-T", service, *command)

    def visitor(self) -> Visitor:
        return Visitor(self.door, SITE)

    def start(self) -> float:
        """Seconds until every part is ready. The proxy, which is us, comes in by the network's gateway."""
        begun = time.monotonic()
        self.compose("up", "--no-start", "--no-build", "broker")  # with which the network comes
        form = "{{(index .Subnets 0).Gateway}}"
        self.settings["FOOTING_TRUSTED_PROXY"] = self.podman.do(
            "network", "inspect", "--format", form, "footing_default"
        )
        try:
            self.compose("up", "--detach", "--no-build")
        except AssertionError as failed:
            raise AssertionError(f"{failed}\n{self.compose('logs', '--tail=30')}") from failed
        asked = self.visitor()

        def is_ready() -> bool:
            try:
                return asked.ask("GET", "/readyz")[0] == 200
            except OSError:
                return False

        assert wait_until(is_ready, READY_WITHIN_S), self.compose("logs", "--tail=30")
        return time.monotonic() - begun

    def told(self, sample: str) -> float:
        """One number of /metrics; 0 where it is not told."""
        lines = self.visitor().get("/metrics", Authorization=f"Bearer {self.token}").splitlines()
        return next((float(line.rpartition(" ")[2]) for line in lines if line.startswith(f"{sample} ")), 0.0)

    def stop(self, service: str) -> float:
        """With the signal that it is stopped by. Seconds; one that doesn't end well is an AssertionError."""
        begun, name = time.monotonic(), f"footing_{service}_1"
        self.podman.do("stop", f"--time={GRACE[service]}", name)
        took_s = time.monotonic() - begun
        status = self.podman.do("inspect", "--format", "{{.State.ExitCode}}", name)
        well = ENDS_BY.get(service, "0")
        assert status == well, f"{service} ended with {status}\n{self.compose('logs', '--tail=30', service)}"
        return took_s

    def wait_until_healthy(self, service: str) -> None:
        """By its own check of compose.yaml."""

        def health() -> str:
            return self.podman.do("inspect", "--format", "{{json .State.Health}}", f"footing_{service}_1")

        assert wait_until(lambda: '"Status":"healthy"' in health(), HEALTHY_WITHIN_S), health()

    @contextmanager
    def worker_stopped_in_mid_take(self) -> Iterator[float]:
        """It is told to stop while it measures, and started again afterwards. Gives the seconds until it had ended."""
        running = 'footing_takes{state="running"}'
        assert wait_until(lambda: self.told(running) == 1, READY_WITHIN_S)
        with ThreadPoolExecutor(1) as pool:
            stopping = pool.submit(self.stop, "worker")
            time.sleep(STILL_AT_IT_S)
            assert self.told(running) == 1, "the take was over before the worker was told to stop"
            took_s = stopping.result()
        assert self.told(running) == 0
        yield took_s
        self.compose("start", "worker")
