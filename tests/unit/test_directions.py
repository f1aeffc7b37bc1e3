"""Imports point down, and a wrong one is caught: each contract is shown to fail on a planted line."""

from __future__ import annotations

import ast
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ("studio", "assignments", "analysis")
LINT_IMPORTS = Path(sys.executable).with_name("lint-imports")


def contracts_kept(root: Path) -> subprocess.CompletedProcess[str]:
    command = [str(LINT_IMPORTS), "--no-cache"]
    return subprocess.run(command, cwd=root, capture_output=True, text=True, timeout=120, check=False)


def test_the_project_keeps_its_directions() -> None:
    done = contracts_kept(ROOT)
    assert done.returncode == 0, done.stdout


@pytest.mark.parametrize(
    ("module", "line", "contract"),
    [
        ("studio/access.py", "import assignments.models", "work knows people and sound"),
        ("analysis/models.py", "import studio.models", "work knows people and sound"),
        ("assignments/takes.py", "import studio.config.env", "nobody imports the wiring"),
        ("analysis/core/units.py", "import django.conf", "the core hears without knowing where it is"),
        ("analysis/core/units.py", "import analysis.models", "sound: tasks, then what they call"),
        ("analysis/models.py", "import analysis.tasks", "sound: tasks, then what they call"),
        ("assignments/gate/rule.py", "import numpy", "the gate and the planner are rules"),
        ("assignments/gate/rule.py", "import assignments.models", "the gate and the planner are rules"),
        ("assignments/planner/__init__.py", "import assignments.models", "the gate and the planner are rules"),
        ("assignments/models/__init__.py", "import assignments.takes", "no cycles among siblings"),
    ],
)
def test_a_planted_violation_is_caught(tmp_path: Path, module: str, line: str, contract: str) -> None:
    for package in PACKAGES:
        leave_out = shutil.ignore_patterns("static", "data", "__pycache__")
        shutil.copytree(ROOT / package, tmp_path / package, ignore=leave_out)
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    with (tmp_path / module).open("a") as file:
        file.write(f"\n{line}\n")
    done = contracts_kept(tmp_path)
    assert done.returncode == 1, done.stdout
    broken = [words for words in done.stdout.splitlines() if words.endswith("BROKEN")]
    assert any(words.startswith(contract) for words in broken), done.stdout


def imported_by(folder: Path) -> set[str]:
    """The top-level names of everything that the modules below ``folder`` import."""
    names: set[str] = set()
    for file in folder.rglob("*.py"):
        for node in ast.walk(ast.parse(file.read_text())):
            if isinstance(node, ast.Import):
                names.update(alias.name.split(".")[0] for alias in node.names)
            elif isinstance(node, ast.ImportFrom) and node.module:
                names.add(node.module.split(".")[0])
    return names


@pytest.mark.parametrize(
    ("folder", "may_use"),
    [
        ("assignments/gate", {"assignments"}),
        ("assignments/planner", {"assignments"}),
        ("analysis/core", {"analysis", "numpy", "scipy"}),
    ],
)
def test_a_pure_part_uses_the_standard_library_and_what_it_counts_with(folder: str, may_use: set[str]) -> None:
    assert imported_by(ROOT / folder) - sys.stdlib_module_names <= may_use


def loaded_after(statement: str) -> set[str]:
    """The top-level modules that a fresh Python holds after ``statement``."""
    code = f"{statement}\nimport sys\nprint(*{{name.split('.')[0] for name in sys.modules}})"
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=True)
    return set(done.stdout.split())


def test_the_core_is_loaded_without_the_web() -> None:
    loaded = loaded_after("import analysis.core.measure")
    assert "numpy" in loaded
    assert not loaded & {"django", "rest_framework", "celery", "redis"}


def test_measuring_loads_no_library_that_only_a_second_opinion_needs() -> None:
    loaded = loaded_after("import analysis.audio")
    assert "scipy" in loaded
    assert not loaded & {"librosa", "numba", "av"}


def test_the_web_process_loads_no_measuring_code() -> None:
    loaded = loaded_after("import studio.config.wsgi")
    assert {"studio", "assignments"} <= loaded
    assert not loaded & {"numpy", "scipy", "librosa", "numba", "av"}


def test_the_web_process_loads_elliptic_curves_with_the_first_device_that_asks_for_notes() -> None:
    loaded_after("import studio.config.wsgi, sys; assert 'cryptography.hazmat' not in sys.modules")
    loaded_after("import studio.config.wsgi, assignments.reminder_posts, sys; sys.modules['cryptography.hazmat']")


def test_the_web_process_loads_what_draws_a_sheet_with_the_first_sheet() -> None:
    loaded = loaded_after("import studio.config.wsgi; import studio.config.urls")
    assert {"studio", "assignments"} <= loaded
    assert not loaded & {"reportlab", "fontTools", "PIL"}
