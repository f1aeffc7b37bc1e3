"""systemd itself understands the units and finds them shut in; the alerts ask for what the site tells."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
import yaml
from django.test import Client
from django.utils import timezone
from prometheus_client.parser import text_string_to_metric_families

from analysis.models import Analysis
from assignments import backups
from tests import people, played
from tests.unit.test_house import ROOT
from tests.unit.test_operations import UNITS

PYTHON = "/opt/footing/.venv/bin/python"
MOST_EXPOSED = 2.5  # of 10
ALERTS = yaml.safe_load((UNITS / "alerts.yml").read_text())["groups"][0]["rules"]
SELECTED = re.compile(r"(footing_\w+)(?:\{([^}]*)\})?")


def systemd(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(["systemd-analyze", *words], capture_output=True, text=True, timeout=60, check=False)


@pytest.fixture
def units(tmp_path: Path) -> Path:
    """As on a machine where the site is installed: what they start is there."""
    for unit in UNITS.glob("footing*"):
        (tmp_path / unit.name).write_text(unit.read_text().replace(PYTHON, "/bin/true"))
    return tmp_path


def verified(units: Path) -> subprocess.CompletedProcess[str]:
    return systemd("verify", "--man=no", *sorted(str(unit) for unit in units.iterdir()))


def test_systemd_has_nothing_to_say_of_the_units(units: Path) -> None:
    assert len(list(units.iterdir())) == 3
    said = verified(units)
    assert (said.returncode, said.stderr) == (0, "")


@pytest.mark.parametrize(
    ("right", "wrong", "named"),
    [
        ("Restart=always", "Restart=allways", "allways"),
        ("PrivateTmp=yes", "PrivateTemp=yes", "PrivateTemp"),
        ("/bin/true", "/bin/not-there", "/bin/not-there"),
    ],
)
def test_it_would_say_what_is_wrong(units: Path, right: str, wrong: str, named: str) -> None:
    unit = units / "footing.service"
    assert right in unit.read_text()
    unit.write_text(unit.read_text().replace(right, wrong))
    assert named in verified(units).stderr


@pytest.mark.parametrize("name", ["footing.service", "footing-backup.service"])
def test_what_a_unit_starts_is_shut_in(units: Path, name: str) -> None:
    looked_at = ("security", "--offline=true", f"--threshold={MOST_EXPOSED * 10:.0f}")
    said = systemd(*looked_at, str(units / name))
    assert said.returncode == 0, said.stdout
    unit = units / name
    unit.write_text(re.sub(r"^(?:SystemCall|Restrict|Protect).*\n", "", unit.read_text(), flags=re.MULTILINE))
    assert systemd(*looked_at, str(unit)).returncode != 0


def told(client: Client) -> dict[str, list[dict[str, str]]]:
    """The labels of every sample of /metrics, by its name."""
    found: dict[str, list[dict[str, str]]] = {}
    for family in text_string_to_metric_families(client.get("/metrics").content.decode()):
        for sample in family.samples:
            found.setdefault(sample.name, []).append(sample.labels)
    return found


@pytest.mark.django_db
def test_every_metric_and_label_of_an_alert_is_one_that_the_site_tells(client: Client, tmp_path, settings) -> None:
    settings.VAR = tmp_path
    backups.note_file().write_text("now")
    where = people.studio()
    week = played.long_week(people.horn(where), people.teacher(where).user)
    played.day(week, where.today(), tones=((60, "mf"), (61, "mf")))
    Analysis.objects.update(measured_at=timezone.now())
    given_up = Analysis.objects.all()[0]
    given_up.state, given_up.fault_code = "failed", "gave_up"
    given_up.save()
    site = told(client)
    for alert in ALERTS:
        asked = SELECTED.findall(alert["expr"])
        assert asked, alert
        for name, matchers in asked:
            assert site[name], alert["alert"]
            for label, value in re.findall(r'(\w+)!?="([^"]*)"', matchers):
                assert value in [labels[label] for labels in site[name]], alert["alert"]


def test_of_every_alert_it_is_tried_when_it_wakes_somebody() -> None:
    cases = yaml.safe_load((ROOT / "tests" / "alerts.yml").read_text())["tests"]
    looks = [look for case in cases for look in case["alert_rule_test"]]
    names = {alert["alert"] for alert in ALERTS}
    assert {look["alertname"] for look in looks if look["exp_alerts"]} == names
    assert {look["alertname"] for look in looks if not look["exp_alerts"]} == names


def test_every_alert_has_a_name_and_says_what_to_look_for() -> None:
    assert len({alert["alert"] for alert in ALERTS}) == len(ALERTS) == 6
    assert all(alert["annotations"]["summary"].endswith((".", "?")) for alert in ALERTS)
