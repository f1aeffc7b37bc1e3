"""Time, memory and instructions, each of one thing at a time on one processor.

Whatever else runs on the machine only ever makes things slower, so the least of several runs is what counts. Work is
told in processor seconds (children included), waiting in seconds on the wall.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Sequence
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]

# ru_maxrss is inherited over fork and exec; the high-water mark of /proc is the process's own. Children are looked at
# while they live.
PEAKS = """
import os, threading
from pathlib import Path

def peak(pid, program=""):
    try:
        lines = Path(f"/proc/{pid}/status").read_text().splitlines()
        if program not in Path(f"/proc/{pid}/cmdline").read_text():
            return 0  # it has only just been forked
    except OSError:
        return 0
    return max((int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")), default=0)

children, over = [0], threading.Event()

def watch():
    while not over.wait(0.05):
        for task in Path("/proc/self/task").iterdir():
            children.extend(peak(pid, "decoding.py") for pid in (task / "children").read_text().split())

watcher = threading.Thread(target=watch, daemon=True)  # a crash of the code must end the process
watcher.start()
{code}
over.set()
watcher.join()
print(peak("self"), max(children))
"""


def processor_seconds(*works: Callable[[], object], times: int = 4) -> list[float]:
    """Of each work, taken in turns: what disturbs one disturbs the next as well."""
    least = [float("inf")] * len(works)
    for _ in range(times):
        for number, work in enumerate(works):
            start = os.times()
            work()
            end = os.times()
            least[number] = min(least[number], sum(end[:4]) - sum(start[:4]))
    return least


def wall_seconds(work: Callable[[], object], times: int, rest_s: float = 0.0) -> float:
    """``rest_s`` before each: time in which a worker gets ready for its next take."""
    taken = []
    for _ in range(times):
        time.sleep(rest_s)
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return min(taken)


def run(command: Sequence[str]) -> None:
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)


def peak_megabytes(code: str = "") -> tuple[float, float]:
    """Highest resident memory of a fresh interpreter that runs ``code``, and of its largest child."""
    command = [sys.executable, "-c", PEAKS.replace("{code}", code)]
    answer = subprocess.run(command, cwd=ROOT, check=True, capture_output=True, text=True)
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
            run([*command, sys.executable, "-c", code])
            counted = re.search(r"Collected : (\d+)", Path(log.name).read_text(encoding="utf-8"))
            if counted:
                return float(counted[1]), "callgrind"
    return None
