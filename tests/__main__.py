"""Runs everything there is to check: ``python -m tests``. Exit status 0 when all of it passed.

Two rows of steps go side by side. In the first are the tests in which browsers play in real seconds and servers are
killed: they mostly wait. In the second, which gives way to them, is what computes: the checks that read the code, the
other tests on SQLite, then those marked ``both_databases`` again on PostgreSQL. Everything runs, whatever failed before
it; a failure is told at once and explained when its step is over.
"""

from __future__ import annotations

import os
import re
import secrets
import shutil
import subprocess
import sys
import threading
import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import IO

import psutil

from tests.audit import NOT_KNOWN
from tests.servers import FURTHER, REDIS_DATABASE

ROOT = Path(__file__).resolve().parents[1]
BIN = Path(sys.executable).parent
PYTHON = str(BIN / "python")
SYSTEM_PACKAGES = {
    "chromium": "the browser of the browser tests",
    "fonts-dejavu-core": "its letters and accidentals",
    "fluidsynth": "plays saxophones that we did not make",
    "fluid-soundfont-gm": "one set of them",
    "timgm6mb-soundfont": "another",
    "gcc": "makes the clock that jumps",
    "libc6-dev": "what it is made with",
    "systemd": "reads its units: 10 MB",
}
COMPILED_ONCE = {"PYTHONDONTWRITEBYTECODE": ""}  # else each process takes all tests' asserts apart anew, for seconds
ONE_THREAD = {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", "NUMBA_NUM_THREADS": "1"}
COMPUTING = ("tests/unit", "tests/reference")
WAITING = ("tests/faults", "tests/browser")
AT_ONCE_COMPUTING, AT_ONCE_WAITING = 2, 3  # test processes
GROUPS = ("--dist", "loadgroup")  # tests that must not meet stay in one process
CHUNKS = ("--dist", "worksteal")  # tests that share what is made once stay together
GIVES_WAY = ("nice", "-n", "10")
TEST_DONE = re.compile(r"\[gw\d+\] \[ *(?P<percent>\d+)%\] (?P<outcome>\w+) (?P<test>.*)")
TEST_BEGUN = re.compile(r"tests/\S+\.py::")
AT_MOST_S = 2400  # of one step: several times what the slowest needs on two cores
LAST_WORDS_S = 10.0
TOLD_EVERY = 10  # per cent of a step
SERVERS = "Tested on "


def say(words: str) -> None:
    print(words, flush=True)


@dataclass
class Step:
    """One command, and how it went. ``output``: all that it said but each test's own line."""

    name: str
    command: Sequence[str]
    environment: dict[str, str] = field(default_factory=dict)
    status: int | None = None
    seconds: float = 0.0
    output: str = ""
    told: int = 0  # per cent
    begun: set[str] = field(default_factory=set)  # tests that are not done yet

    @property
    def word(self) -> str:
        return {0: "passed", NOT_KNOWN: "NOT CHECKED"}.get(self.status or 0, "FAILED")

    def run(self) -> Step:
        """To its end, or to AT_MOST_S: a step that hangs is ended with all that it started, and says where it was."""
        begun = time.monotonic()
        process = psutil.Popen(
            self.command,
            cwd=ROOT,
            env={**os.environ, **COMPILED_ONCE, **ONE_THREAD, **self.environment},
            stdin=subprocess.DEVNULL,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        reader = threading.Thread(target=self.read, args=(process.stdout, begun), daemon=True)
        reader.start()
        try:
            self.status = process.wait(AT_MOST_S)
        except psutil.TimeoutExpired:
            for one in [*process.children(recursive=True), process]:
                with suppress(psutil.NoSuchProcess):  # gone meanwhile
                    one.kill()
            self.status = process.wait()
            self.output += (
                f"Ended after {AT_MOST_S} s. Begun and not done: {', '.join(sorted(self.begun)) or 'no test'}\n"
            )
        reader.join(LAST_WORDS_S)  # whoever was left behind may hold the pipe for ever
        self.seconds = time.monotonic() - begun
        say(f"{self.name}: {self.word} after {self.seconds:.0f} s")
        if self.status:
            say(self.output)
        return self

    def read(self, lines: IO[str], begun_s: float) -> None:
        for line in lines:
            if done := TEST_DONE.match(line):
                self.begun.discard(done["test"].strip())
                self.tell(int(done["percent"]), done["outcome"], done["test"], time.monotonic() - begun_s)
            elif TEST_BEGUN.match(line):
                self.begun.add(line.strip())
            else:
                self.output += line

    def tell(self, percent: int, outcome: str, test: str, seconds: float) -> None:
        """Failures at once, and now and then how far it is."""
        if outcome in ("FAILED", "ERROR"):
            say(f"{self.name}: {outcome} {test}")
        if percent >= self.told + TOLD_EVERY:
            self.told = percent - percent % TOLD_EVERY
            say(f"{self.name}: {self.told} % after {seconds:.0f} s")


def reading() -> list[Step]:
    """What looks at the code without running it, and at the settings of a production site."""
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
        Step("migrations", [PYTHON, "manage.py", "makemigrations", "--check", "--dry-run"]),
        Step("deployment", [PYTHON, "manage.py", "check", "--deploy", "--fail-level", "WARNING"], production),
        Step("packages", [PYTHON, "-m", "pip", "check"]),
        Step("known holes", [PYTHON, "-m", "tests.audit"]),
    ]


def of_pytest(name: str, at_once: int, *arguments: str, first: int, before: Sequence[str] = (), **more: str) -> Step:
    """A step of pytest. ``first``: its processes' first Redis database, so that rows side by side share none.

    No process that crashed is replaced: pytest-xdist 3.8 then waits for ever at the end when tests are in groups, and
    a further process would use a database of the other row.
    """
    pytest = [PYTHON, "-m", "pytest", "-v", "--no-header", "-n", str(at_once), "--max-worker-restart", "0"]
    return Step(name, [*before, *pytest, *arguments], {FURTHER: str(first), **more})


def rows() -> list[list[Step]]:
    first = REDIS_DATABASE
    waiting = of_pytest("faults and browsers", AT_ONCE_WAITING, *GROUPS, *WAITING, first=first)
    first += AT_ONCE_WAITING
    postgres = (*GROUPS, "-m", "both_databases", "tests/unit", "tests/faults")
    computing = [
        of_pytest("tests on SQLite", AT_ONCE_COMPUTING, *CHUNKS, *COMPUTING, first=first, before=GIVES_WAY),
        of_pytest("on PostgreSQL", AT_ONCE_COMPUTING, *postgres, first=first, before=GIVES_WAY, TEST_ON="postgresql"),
    ]
    return [[waiting], [*reading(), *computing]]


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
    say(f"Installing {reasons} …")
    quiet = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}
    subprocess.run(["apt-get", "update", "-qq"], env=quiet, check=True)
    install = ["apt-get", "install", "-qq", "--yes", "--no-install-recommends", *missing]
    subprocess.run(install, env=quiet, check=True, stdout=subprocess.DEVNULL)


def is_installed(package: str) -> bool:
    asked = ["dpkg-query", "--show", "--showformat=${db:Status-Status}", package]
    return subprocess.run(asked, capture_output=True, text=True, check=False).stdout == "installed"


def main() -> int:
    system_packages()
    with ThreadPoolExecutor() as pool:
        done = list(pool.map(lambda row: [step.run() for step in row], rows()))
    steps = [step for row in done for step in row]
    said = [line for step in steps for line in step.output.splitlines()]
    say("")
    for step in steps:
        say(f"{step.word:11} {step.seconds:6.0f} s  {step.name}")
    for line in dict.fromkeys(line for line in said if line.startswith(SERVERS)):
        say(line)
    return int(any(step.status not in (0, NOT_KNOWN) for step in steps))


if __name__ == "__main__":
    sys.exit(main())
