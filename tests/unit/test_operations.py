"""The files that run Footing elsewhere say what the supervisor says; an audit that could not ask does not pass."""

from __future__ import annotations

import json
import re
import subprocess

import pytest
import yaml
from celery import current_app
from celery.bin.worker import worker as start_of_worker
from django.core.management import get_commands, load_command_class

from studio.config import settings, supervisor
from tests import audit
from tests.unit.test_house import ROOT

COMPOSE = (ROOT / "compose.yaml").read_text()
UNITS = ROOT / "studio" / "config" / "systemd"
DEPLOYED = [ROOT / "Containerfile", *sorted(UNITS.glob("*.service"))]
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
    assert set(copied) == {"requirements.lock", "manage.py", "studio", "assignments", "analysis", "templates"}
    handed_on = [line for line in (ROOT / ".dockerignore").read_text().splitlines() if not line.startswith("#")]
    assert handed_on == ["*", *(f"!{name}" for name in copied), "**/__pycache__"]


def commands_of_manage() -> list[list[str]]:
    """What compose.yaml, the image and the units have manage.py do: its words after ``manage.py``."""
    services = yaml.safe_load(COMPOSE)["services"].values()
    lines = [" ".join(service["command"]) for service in services if "command" in service]
    lines += re.findall(r"^(?:CMD|ExecStart=)(.+)$", "\n".join(file.read_text() for file in DEPLOYED), re.MULTILINE)
    words = [re.sub(r'[\[\]",]+', " ", line) for line in lines]
    return [found.split() for line in words for found in re.findall(r"manage\.py ([^&;]+)", line)]


@pytest.mark.parametrize("words", commands_of_manage(), ids=" ".join)
def test_every_command_in_them_is_one_and_takes_what_it_is_given(words: list[str]) -> None:
    name, *arguments = words
    command = load_command_class(get_commands()[name], name)
    command.create_parser("manage.py", name).parse_args(arguments)


def test_the_commands_are_found() -> None:
    names = [name for name, *_ in commands_of_manage()]
    assert sorted(names) == ["backup", "backup", "collectstatic", "migrate", "serve", "serve", "sweep"]


def test_in_a_container_each_process_of_ours_hears_the_signal_to_stop() -> None:
    ours = [one for one in yaml.safe_load(COMPOSE)["services"].values() if one["image"] == "footing"]
    assert len(ours) == 5
    assert all(one["init"] for one in ours)


def test_a_stop_leaves_the_worker_time_for_the_take_in_hand() -> None:
    stop_s = int(re.findall(r"TimeoutStopSec=(\d+)", (UNITS / "footing.service").read_text())[0])
    assert stop_s > settings.CELERY_TASK_TIME_LIMIT + 30
    assert int(re.findall(r"stop_grace_period: (\d+)s # the take", COMPOSE)[0]) > settings.CELERY_TASK_TIME_LIMIT


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
