"""The house keeps its habits: two commands in the README, short files, short functions, no names that name nothing."""

from __future__ import annotations

import ast
import re
import sys
from importlib.metadata import packages_distributions
from pathlib import Path

import pytest

from tests.unit.test_directions import imported_by

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text()
MODULES = [
    file
    for package in ("studio", "assignments", "analysis", "tests")
    for file in sorted((ROOT / package).rglob("*.py"))
    if "migrations" not in file.parts
]

LONGER = {"analysis/decoding.py": 300}  # a program of its own, started without a path: it can import nothing of ours


def command_under(heading: str) -> str:
    """The one line of the one fenced sh block below ``## heading``."""
    section = README.split(f"\n## {heading}\n")[1].split("\n## ")[0]
    blocks = re.findall(r"^```sh\n(.*?)^```$", section, re.MULTILINE | re.DOTALL)
    assert len(blocks) == 1
    assert blocks[0].count("\n") == 1
    return blocks[0].strip()


def test_the_readme_tells_in_one_line_each_how_to_run_and_how_to_test() -> None:
    assert command_under("Run it").endswith("manage.py serve")
    assert command_under("Test it").endswith("-m tests")


def test_continuous_integration_runs_the_readmes_line() -> None:
    assert (ROOT / ".ci" / "run").read_text().splitlines()[-1] == command_under("Test it")


def test_every_setting_is_in_the_readme() -> None:
    settings = (ROOT / "studio" / "config" / "settings.py").read_text()
    asked = set(re.findall(r'ENV\.\w+\(\s*"(\w+)"', settings))
    assert len(asked) > 10
    assert {name for name in asked if f"`{name}`" not in README} == set()
    told = set(re.findall(r"`((?:FOOTING_|DATABASE_|REDIS_)\w+)`", README))
    assert told == asked


def test_every_requirement_is_pinned_and_says_what_it_is_for() -> None:
    for file in (ROOT / "requirements.txt", ROOT / "tests" / "requirements.txt"):
        lines = [line for line in file.read_text().splitlines() if not line.startswith("#")]
        assert [line for line in lines if not re.fullmatch(r"[\w\[\],.-]+==[\w.]+(; .+)?  # .+", line)] == []


def pinned(*files: Path) -> set[str]:
    lines = [line for file in files for line in file.read_text().splitlines() if not line.startswith("#")]
    return {re.split(r"[\[=]", line)[0].lower() for line in lines}


WITH_CELERY = {"kombu", "redis"}  # of celery[redis], which chooses their versions
RUN, TEST = ROOT / "requirements.txt", ROOT / "tests" / "requirements.txt"


@pytest.mark.parametrize(
    ("folders", "files"),
    [(("studio", "assignments", "analysis"), (RUN,)), (("tests",), (RUN, TEST))],
    ids=["the program", "the tests"],
)
def test_what_is_imported_is_pinned(folders: tuple[str, ...], files: tuple[Path, ...]) -> None:
    imported = set().union(*(imported_by(ROOT / folder) for folder in folders))
    imported -= sys.stdlib_module_names | {"studio", "assignments", "analysis", "tests"}
    comes_from = {"parselmouth": ["praat-parselmouth"], **packages_distributions()}  # its list of modules is empty
    have = pinned(*files) | WITH_CELERY
    assert {name for name in imported if not {one.lower() for one in comes_from[name]} & have} == set()


@pytest.mark.parametrize("file", MODULES, ids=lambda file: str(file.relative_to(ROOT)))
def test_a_module_is_one_idea_and_a_function_fits_a_screen(file: Path) -> None:
    text = file.read_text()
    assert text.count("\n") <= LONGER.get(str(file.relative_to(ROOT)), 250)
    functions = [n for n in ast.walk(ast.parse(text)) if isinstance(n, ast.FunctionDef | ast.AsyncFunctionDef)]
    lengths = {f.name: (f.end_lineno or f.lineno) - f.lineno for f in functions}
    assert {name: length for name, length in lengths.items() if length > 50} == {}
    assert file.name not in ("utils.py", "services.py", "exceptions.py", "helpers.py")
