"""Runs everything there is to check: ``python -m tests``. Exit status 0 when all of it passed.

First what the system must bring, then the checks that read the code, then the tests on SQLite, and
those marked ``both_databases`` again on PostgreSQL. Everything runs, whatever failed before it.
"""

from __future__ import annotations

import os
import secrets
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

from tests.audit import NOT_KNOWN

ROOT = Path(__file__).resolve().parents[1]
BIN = Path(sys.executable).parent
SYSTEM_PACKAGES = {
    "chromium": "the browser of the browser tests",
    "fonts-dejavu-core": "its letters and accidentals",
    "fluidsynth": "plays saxophones that we did not make",
    "fluid-soundfont-gm": "one set of them",
    "timgm6mb-soundfont": "another",
    "gcc": "makes the clock that jumps",
    "libc6-dev": "what it is made with",
}
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
TESTS = ["tests/unit", "tests/reference", "tests/faults", "tests/browser"]


@dataclass
class Step:
    """One command, and how it went."""

    name: str
    command: list[str]
    environment: dict[str, str] = field(default_factory=dict)
    status: int | None = None
    seconds: float = 0.0
    output: str = ""

    @property
    def word(self) -> str:
        return {0: "passed", NOT_KNOWN: "NOT CHECKED"}.get(self.status or 0, "FAILED")

    def run(self, show: bool) -> Step:
        begun = time.monotonic()
        done = subprocess.run(
            self.command,
            cwd=ROOT,
            env={**os.environ, **ONE_THREAD, **self.environment},
            stdin=subprocess.DEVNULL,
            stdout=None if show else subprocess.PIPE,
            stderr=None if show else subprocess.STDOUT,
            text=True,
            check=False,
        )
        self.status, self.output, self.seconds = done.returncode, done.stdout or "", time.monotonic() - begun
        return self


def reading() -> list[Step]:
    """What looks at the code without running it, and at the settings of a production site."""
    python = str(BIN / "python")
    production = {
        "FOOTING_MODE": "production",
        "FOOTING_SECRET_KEY": secrets.token_urlsafe(64),
        "FOOTING_ORIGINS": "https://tones.example.org",
    }
    return [
        Step("types", [str(BIN / "mypy")]),
        Step("lint", [str(BIN / "ruff"), "check"]),
        Step("format", [str(BIN / "ruff"), "format", "--check"]),
        Step("directions", [str(BIN / "lint-imports")]),
        Step("migrations", [python, "manage.py", "makemigrations", "--check", "--dry-run"]),
        Step("deployment", [python, "manage.py", "check", "--deploy", "--fail-level", "WARNING"], production),
        Step("packages", [python, "-m", "pip", "check"]),
        Step("known holes", [python, "-m", "tests.audit"]),
    ]


def running() -> list[Step]:
    pytest = [str(BIN / "python"), "-m", "pytest", "-q", "-n", "2", "--dist", "loadgroup"]
    return [
        Step("tests on SQLite", [*pytest, *TESTS]),
        Step(
            "tests on PostgreSQL",
            [*pytest, "-m", "both_databases", "tests/unit", "tests/faults"],
            {"TEST_ON": "postgresql"},
        ),
    ]


def system_packages() -> None:
    """Install what is missing of SYSTEM_PACKAGES, or say how to and end."""
    if not shutil.which("dpkg-query"):
        sys.exit("The tests need Debian's packages: " + ", ".join(SYSTEM_PACKAGES))
    missing = [package for package in SYSTEM_PACKAGES if not is_installed(package)]
    if not missing:
        return
    reasons = ", ".join(f"{package} ({SYSTEM_PACKAGES[package]})" for package in missing)
    if os.geteuid() != 0:
        sys.exit(f"The tests need {reasons}. Install first: sudo apt-get install --yes {' '.join(missing)}")
    print(f"Installing {reasons} …", flush=True)
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-qq"], env=quiet, check=True)
    install = ["apt-get", "install", "-qq", "--yes", "--no-install-recommends", *missing]
    subprocess.run(install, env=quiet, check=True, stdout=subprocess.DEVNULL)


def is_installed(package: str) -> bool:
    asked = ["dpkg-query", "--show", "--showformat=${db:Status-Status}", package]
    return subprocess.run(asked, capture_output=True, text=True, check=False).stdout == "installed"


def main() -> int:
    system_packages()
    steps = reading()
    with ThreadPoolExecutor(2) as pool:
        for step in pool.map(lambda step: step.run(show=False), steps):
            print(f"{step.name}: {step.word}", flush=True)
            if step.status:
                print(step.output, flush=True)
    for step in running():
        print(f"\n{step.name} …", flush=True)
        steps.append(step.run(show=True))
    print()
    for step in steps:
        print(f"{step.word:11} {step.seconds:6.0f} s  {step.name}")
    return int(any(step.status not in (0, NOT_KNOWN) for step in steps))


if __name__ == "__main__":
    sys.exit(main())
