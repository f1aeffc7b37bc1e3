"""If the guide names it, it is there."""

from __future__ import annotations

import re
from importlib.util import find_spec
from pathlib import Path

from django.core.management import get_commands

from assignments import models as work
from studio.config import settings
from tests.unit.test_house import ROOT

GUIDE = (ROOT / "DEVELOPERS.md").read_text()
NAMED = set(re.findall(r"`([^`\n]+)`", re.sub(r"```.*?```", "", GUIDE, flags=re.DOTALL)))
SCRIPTS = ROOT / "assignments" / "static" / "assignments"


def is_path(word: str) -> bool:
    return re.fullmatch(r"[\w./*-]+", word) is not None and (
        "/" in word or word.endswith((".py", ".js", ".toml", ".md"))
    )


def test_every_path_it_names_is_there() -> None:
    paths = {word for word in NAMED if is_path(word)}
    assert len(paths) > 40
    assert {path for path in paths if not list(ROOT.glob(path.rstrip("/"))) and not (SCRIPTS / path).exists()} == set()


def test_every_command_it_names_is_there() -> None:
    commands = set(get_commands())
    named = {word.split("manage.py ")[1].split()[0] for word in NAMED if "manage.py " in word}
    named |= {word for word in NAMED if word in ("standing", "plan", "demo_takes")}
    assert named - commands == set()
    modules = {word.split("-m ")[1].split()[0] for word in NAMED if "python -m " in word}
    assert {module for module in modules if not _module_exists(module)} == set()


def _module_exists(module: str) -> bool:
    path = ROOT / Path(*module.split("."))
    if not (ROOT / module.partition(".")[0]).exists():
        return find_spec(module) is not None  # somebody else's, installed
    return path.with_suffix(".py").exists() or (path / "__main__.py").exists()


def test_every_setting_it_names_is_there() -> None:
    named = set(re.findall(r"\b(?:FOOTING|CELERY)_[A-Z_]+\b", GUIDE))
    text = Path(settings.__file__).read_text()
    assert {name for name in named if name not in text} == set()


def test_the_functions_in_the_walk_are_where_it_says() -> None:
    walk = GUIDE.split("## The walk of one take")[1].split("\n## ")[0]
    pairs = re.findall(r"`([\w/]+\.py)`\)? `([\w.]+)`", walk)
    assert len(pairs) >= 8
    for path, name in pairs:
        text = (ROOT / path).read_text()
        for part in name.split("."):
            assert re.search(rf"\b(def|class) {part}\b", text), f"{path} has no {name}"


def test_the_rows_it_names_are_models() -> None:
    for name in ("PlayedDay", "Opening", "Take", "Try"):
        assert name in GUIDE
        assert hasattr(work, name)
