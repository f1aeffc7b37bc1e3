"""Wall time, peak memory and instructions, each of one thing at a time on one processor."""

from __future__ import annotations

import re
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PEAK = """
import resource
print(*(resource.getrusage(who).ru_maxrss / 1024 for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)))
"""


def seconds(work: Callable[[], object], times: int = 3) -> float:
    """Median of several runs: other users of the machine make outliers in one direction only."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def command_seconds(command: Sequence[str], times: int) -> list[float]:
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
        taken.append(time.perf_counter() - start)
    return taken


def peak_megabytes(code: str = "") -> tuple[float, float]:
    """Highest resident memory of a fresh interpreter that runs ``code``, and of its largest child."""
    answer = subprocess.run([sys.executable, "-c", code + PEAK], cwd=ROOT, check=True, capture_output=True, text=True)
    own, child = answer.stdout.split()[-2:]
    return float(own), float(child)


def instructions(code: str) -> tuple[float, str] | None:
    """What a fresh interpreter spends on ``code``, and what counted it; None where nothing can."""
    if shutil.which("perf"):
        command = ["perf", "stat", "-x", ",", "-e", "instructions:u", sys.executable, "-c", code]
        answer = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
        counted = re.search(r"^(\d+),,instructions", answer.stderr, re.MULTILINE)
        if counted:
            return float(counted[1]), "perf"
    if shutil.which("valgrind"):
        with tempfile.NamedTemporaryFile() as log:
            command = ["valgrind", "--tool=callgrind", "--callgrind-out-file=/dev/null", f"--log-file={log.name}"]
            subprocess.run([*command, sys.executable, "-c", code], cwd=ROOT, check=True, capture_output=True)
            counted = re.search(r"Collected : (\d+)", Path(log.name).read_text(encoding="utf-8"))
            if counted:
                return float(counted[1]), "callgrind"
    return None
