"""The command that tries the image: what it needs and cannot have it names, and then it does not pass."""

from __future__ import annotations

import re
import sys
from pathlib import Path

import pytest

from tests.audit import NOT_KNOWN
from tests.image import __main__ as command
from tests.image import images, podman
from tests.image.site import GRACE, services


def test_a_tool_that_is_missing_is_named_with_how_to_get_it_and_nothing_passed(monkeypatch, capsys) -> None:
    monkeypatch.setattr(podman.os, "geteuid", lambda: 0)
    monkeypatch.setattr(podman, "is_installed", lambda package: package not in ("runc", "netavark"))
    monkeypatch.setattr(sys, "argv", ["image"])
    assert command.main() == NOT_KNOWN
    said = capsys.readouterr().out
    assert said.startswith("Not tried: runc (starts containers), netavark (their network)")
    assert "apt-get install --no-install-recommends runc netavark" in said


def test_without_root_it_says_so(monkeypatch, capsys) -> None:
    monkeypatch.setattr(podman.os, "geteuid", lambda: 1000)
    monkeypatch.setattr(sys, "argv", ["image"])
    assert command.main() == NOT_KNOWN
    assert "needs root" in capsys.readouterr().out


def test_a_base_that_is_not_there_is_nothing_known(tmp_path: Path) -> None:
    with pytest.raises(podman.NotHereError, match="is not there"):
        images.stand_in(podman.Podman(tmp_path), tmp_path / "debian.tar", {})


def test_every_image_from_elsewhere_has_something_that_stands_in_for_it() -> None:
    targets = set(re.findall(r"^FROM base AS (\w+)", (images.HERE / "standins").read_text(), re.MULTILINE))
    names = images.official(services())
    assert set(names) == targets
    assert {one["image"] for one in services().values()} == {*names.values(), "footing"} - {names["python"]}


def test_the_build_sees_the_files_that_pips_settings_name_and_no_others(tmp_path: Path) -> None:
    wheels, index, certificates = tmp_path / "wheels", tmp_path / "index" / "simple", tmp_path / "all.crt"
    for folder in (wheels, index):
        folder.mkdir(parents=True)
    certificates.touch()
    settings = {
        "find-links": f"{wheels} {tmp_path / 'gone'}",
        "extra-index-url": f"file://{index} https://packages.example.org/simple",
        "cert": str(certificates),
        "default-timeout": "60",
    }
    assert images.named_in(settings) == sorted([wheels, index.parent, certificates])


def test_each_part_has_the_time_to_stop_that_compose_gives() -> None:
    told = {name: one["stop_grace_period"] for name, one in services().items() if "stop_grace_period" in one}
    assert told == {name: f"{GRACE[name]}s" for name in told}
    assert set(told) == {"web", "worker"}
