"""The files that run Footing elsewhere say what the supervisor says; an audit that could not ask does not pass."""

from __future__ import annotations

import json
import re
import subprocess

import pytest
from celery import current_app
from celery.bin.worker import worker as start_of_worker

from studio.config import settings, supervisor
from tests import audit
from tests.unit.test_house import ROOT

COMPOSE = (ROOT / "compose.yaml").read_text()
UNITS = ROOT / "studio" / "config" / "systemd"
SETTINGS = set(re.findall(r'ENV\.\w+\(\s*"(\w+)"', (ROOT / "studio" / "config" / "settings.py").read_text()))


def test_every_setting_in_them_is_one() -> None:
    texts = [COMPOSE, (ROOT / "Containerfile").read_text(), *(file.read_text() for file in UNITS.iterdir())]
    named = {name for text in texts for name in re.findall(r"\b(?:FOOTING_[A-Z0-9_]+|DATABASE_URL|REDIS_URL)\b", text)}
    assert len(named) > 5
    assert named <= SETTINGS


def test_the_containers_are_told_every_setting_that_a_site_may_need() -> None:
    of_one_machine = {
        "FOOTING_VAR", "FOOTING_HOST", "FOOTING_PORT", "FOOTING_WORKERS", "FOOTING_WEB_PROCESSES",
        "FOOTING_WEB_THREADS", "FOOTING_DEBUG", "FOOTING_LOG_LEVEL",
    }  # fmt: skip
    passed = set(re.findall(r"^    (\w+):", COMPOSE, re.MULTILINE))
    assert SETTINGS - of_one_machine <= passed
    assert {"AWS_ACCESS_KEY_ID", "AWS_SECRET_ACCESS_KEY"} <= passed


def test_a_site_in_containers_knows_who_comes_and_is_backed_up() -> None:
    assert COMPOSE.count("${FOOTING_TRUSTED_PROXY:?") == COMPOSE.count("${FOOTING_TRUSTED_PROXY") == 1
    assert "python manage.py backup /backups" in COMPOSE
    assert " /backups" in (ROOT / "Containerfile").read_text()


def test_the_containers_start_web_and_worker_as_the_supervisor_does() -> None:
    worker = [word for word in supervisor.worker_command()[1:] if not word.startswith(("--loglevel", "--concurrency"))]
    web = supervisor.web_command()[1:]
    assert {word for word in worker if word not in COMPOSE} == set()
    assert {word for word in web if word not in COMPOSE} == set()
    assert f"--every={settings.SWEEP_EVERY_S}" in COMPOSE
    assert "noeviction" in COMPOSE


def queues_of(command: list[str]) -> set[str]:
    """Which queues a worker that is started so takes its work from, as Celery itself reads the command."""
    words = command[command.index("worker") + 1 :]
    asked = start_of_worker.make_context("worker", words, resilient_parsing=True).params
    queues = current_app.amqp.Queues(settings.CELERY_TASK_QUEUES)
    if asked["queues"]:
        queues.select(asked["queues"])
    queues.deselect(asked["exclude_queues"] or [])
    return set(queues.consume_from)


@pytest.mark.parametrize(
    "command",
    [supervisor.worker_command(), re.findall(r"command: \[(.+ worker, .+)\]", COMPOSE)[0].split(", ")],
    ids=["the supervisor's", "in containers"],
)
def test_a_worker_started_as_documented_measures_and_settles(command: list[str]) -> None:
    both = {settings.CELERY_TASK_DEFAULT_QUEUE, settings.SETTLING_QUEUE}
    assert queues_of(command) == both
    assert queues_of([*command, "--queues=takes"]) == {"takes"}
    assert queues_of([*command, "--exclude-queues=takes"]) == both - {"takes"}


def test_the_image_holds_every_part_and_no_test() -> None:
    copied = re.findall(r"^COPY (\S+)", (ROOT / "Containerfile").read_text(), re.MULTILINE)
    assert set(copied) == {"requirements.txt", "manage.py", "studio", "assignments", "analysis", "templates"}


def test_a_stop_leaves_the_worker_time_for_the_take_in_hand() -> None:
    stop_s = int(re.findall(r"TimeoutStopSec=(\d+)", (UNITS / "footing.service").read_text())[0])
    assert stop_s > settings.CELERY_TASK_TIME_LIMIT + 30
    assert int(re.findall(r"stop_grace_period: (\d+)s # the take", COMPOSE)[0]) > settings.CELERY_TASK_TIME_LIMIT


def test_every_alert_is_about_a_metric_that_there_is() -> None:
    named = set(re.findall(r"footing_\w+", (UNITS / "alerts.yml").read_text()))
    told = (ROOT / "studio" / "config" / "metrics.py").read_text()
    assert len(named) >= 4
    assert {name for name in named if f'"{name}"' not in told} == set()


def answer(*packages: dict[str, object]) -> subprocess.CompletedProcess[str]:
    return subprocess.CompletedProcess([], 0, json.dumps({"dependencies": packages}), "")


KNOWN = {"name": "tone", "version": "1.0", "vulns": []}


@pytest.mark.parametrize(
    ("said", "status"),
    [
        (answer(KNOWN), 0),
        (answer(KNOWN, {"name": "horn", "skip_reason": "not found"}), audit.NOT_KNOWN),
        (answer({**KNOWN, "vulns": [{"id": "X-1", "fix_versions": ["1.1"]}]}), 1),
        (subprocess.CompletedProcess([], 1, "", "Name or service not known"), audit.NOT_KNOWN),
    ],
    ids=["none", "one not looked up", "a hole", "no network"],
)
def test_an_audit_passes_only_when_every_package_was_looked_up(said, status: int) -> None:
    assert audit.verdict(said)[0] == status
