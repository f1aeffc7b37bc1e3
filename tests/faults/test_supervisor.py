"""Serving is one process to start and to stop, and it keeps the others running."""

from __future__ import annotations

import os
import re
import secrets
import signal
import urllib.request
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.faults.serving import Serving, free_port, gone, wait_until

pytestmark = pytest.mark.xdist_group("serving")


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Serving]:
    serving = Serving(tmp_path_factory.mktemp("serve") / "var")
    try:
        serving.wait_until_ready()
        yield serving
    finally:
        serving.end()


@pytest.fixture
def started(var: Path) -> Iterator[Serving]:
    serving = Serving(var)
    yield serving
    serving.end()


def test_everything_works_on_a_machine_that_offers_nothing(running: Serving) -> None:
    assert set(running.children()) == {"web server", "worker", "sweeper", "broker"}
    assert running.answers("/readyz")
    assert running.address in running.words()


@pytest.mark.parametrize("role", ["web server", "worker", "sweeper", "broker"])
def test_a_killed_process_is_started_again_and_the_site_is_ready_again(running: Serving, role: str) -> None:
    before = running.children()[role]
    before.kill()
    came_back = wait_until(lambda: running.children().get(role, before).pid != before.pid, 60)
    assert came_back, running.words()
    assert wait_until(lambda: running.answers("/readyz"), 60)
    assert f"The {role} was ended by SIGKILL" in running.words()


def test_a_killed_worker_takes_its_own_children_along(running: Serving) -> None:
    assert wait_until(lambda: bool(running.children()["worker"].children()), 120)
    worker = running.children()["worker"]
    its_children = worker.children()
    worker.kill()
    assert gone(its_children, within_s=15) == []


def test_the_data_folder_is_its_owners_alone(running: Serving) -> None:
    var = running.said.with_suffix("")
    assert var.stat().st_mode & 0o077 == 0
    assert (var / "secret_key").stat().st_mode & 0o077 == 0
    assert (var / "redis.sock").stat().st_mode & 0o077 == 0


def test_a_second_start_on_the_same_folder_is_refused_in_a_sentence(running: Serving) -> None:
    second = Serving(running.said.with_suffix(""))
    assert second.process.wait(120) == 1
    assert "already running on the data folder" in second.words()
    assert "Traceback" not in second.words()


@pytest.mark.parametrize("by", [signal.SIGTERM, signal.SIGINT])
def test_a_stop_ends_every_process_and_counts_as_success(started: Serving, by: signal.Signals) -> None:
    started.wait_until_ready()
    everybody = started.everybody()
    assert len(everybody) >= 5  # the four, and the worker's own child
    started.process.send_signal(by)
    assert started.process.wait(60) == 0, started.words()
    assert gone(everybody, within_s=10) == []
    assert started.words().rstrip().endswith("Footing has stopped.")


def test_a_stop_in_the_middle_of_starting_leaves_no_process(started: Serving) -> None:
    assert wait_until(lambda: "Starting the web server" in started.words(), 180)
    everybody = started.everybody()
    started.process.send_signal(signal.SIGTERM)
    assert started.process.wait(60) == 0, started.words()
    assert gone(everybody, within_s=10) == []


def test_a_killed_supervisor_leaves_no_process(started: Serving) -> None:
    started.wait_until_ready()
    everybody = started.everybody()
    started.process.kill()
    started.process.wait()
    assert gone(everybody, within_s=15) == []


def test_a_site_that_listens_on_every_address_answers_to_this_machines_own(var: Path) -> None:
    serving = Serving(var, "--host=0.0.0.0")
    try:
        serving.wait_until_ready()
        address = serving.words().split("Footing is ready: ")[1].split()[0]
        with urllib.request.urlopen(address + "healthz", timeout=20) as answer:
            assert answer.status == 200
    finally:
        serving.end()


def test_of_two_web_servers_one_answers_while_the_other_is_down(var: Path) -> None:
    serving = Serving(var, FOOTING_WEB_PROCESSES="2")
    try:
        serving.wait_until_ready()
        servers = [one for one in serving.everybody() if "studio.config.web" in " ".join(one.cmdline())]
        assert len(servers) == 2
        assert wait_until(lambda: all(one.num_threads() > 1 for one in servers), 120)
        servers[0].kill()
        assert gone(servers[:1], within_s=15) == []
        assert serving.answers()
        assert wait_until(lambda: "The web server 1 was ended by SIGKILL" in serving.words(), 60)
    finally:
        serving.end()


def test_without_its_broker_the_site_starts_and_says_that_takes_wait(var: Path) -> None:
    serving = Serving(var, REDIS_URL=f"redis://127.0.0.1:{free_port()}/0")
    try:
        serving.wait_until_ready()
        assert "REDIS_URL does not answer" in serving.words()
        assert "broker" not in serving.children()
        assert serving.answers()
        assert not serving.answers("/readyz")
    finally:
        serving.end()


def test_a_production_site_sends_everybody_to_https_and_names_its_files_by_their_content(var: Path) -> None:
    site = {
        "FOOTING_MODE": "production",
        "FOOTING_SECRET_KEY": secrets.token_urlsafe(64),
        "FOOTING_ORIGINS": "https://tones.example.org",
        "FOOTING_TRUSTED_PROXY": "127.0.0.1",
        "REDIS_URL": os.environ["REDIS_URL"],
    }
    serving = Serving(var, **site)
    try:
        serving.wait_until_ready()
        assert "Footing is ready: https://tones.example.org/" in serving.words()
        status, headers, _ = serving.ask("/", Host="tones.example.org")
        assert (status, headers["Location"]) == (301, "https://tones.example.org/")
        status, headers, page = serving.ask("/sign-in/", Host="tones.example.org", **{"X-Forwarded-Proto": "https"})
        assert status == 200
        assert re.search(r'href="/static/studio/[^"]+\.[0-9a-f]{12}\.css"', page)
        assert "max-age=31536000" in headers["Strict-Transport-Security"]
    finally:
        serving.end()
