"""Known holes in what is installed: ``python -m tests.audit``.

Status 0: every pinned package was looked up and none has a known hole. 1: a hole. 75 (EX_TEMPFAIL): the list of
holes could not be asked, or does not know a package; then nothing is known, and that is said.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FILES = ("requirements.txt", "tests/requirements.txt")
NOT_KNOWN = os.EX_TEMPFAIL
WITHIN_S = 120


def ask(file: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pip_audit", "--requirement", str(ROOT / file), "--no-deps", "--disable-pip"]
    try:
        return subprocess.run(
            [*command, "--format", "json", "--progress-spinner", "off"],
            capture_output=True,
            text=True,
            timeout=WITHIN_S,
            check=False,
        )
    except subprocess.TimeoutExpired:
        return subprocess.CompletedProcess(command, 1, "", f"no answer within {WITHIN_S} s")


def verdict(answer: subprocess.CompletedProcess[str]) -> tuple[int, list[str]]:
    """Status and words for one file's answer: a package that was skipped counts as not known, never as passed."""
    try:
        packages = json.loads(answer.stdout)["dependencies"]
    except ValueError:
        last = (answer.stderr.strip().splitlines() or ["no answer"])[-1]
        return NOT_KNOWN, [f"the list of known holes could not be asked: {last[:200]}"]
    holes = [
        f"{one['name']} {one['version']}: {hole['id']}, mended in {', '.join(hole['fix_versions']) or 'no release yet'}"
        for one in packages
        for hole in one.get("vulns", ())
    ]
    unknown = [one["name"] for one in packages if "skip_reason" in one]
    if holes:
        return 1, holes
    if unknown:
        return NOT_KNOWN, [f"{len(unknown)} of {len(packages)} packages could not be looked up: {', '.join(unknown)}"]
    return 0, [f"{len(packages)} packages, no known hole"]


def main() -> int:
    statuses = []
    for file in FILES:
        status, words = verdict(ask(file))
        statuses.append(status)
        print("\n".join(f"{file}: {one}" for one in words))
    return 1 if 1 in statuses else max(statuses)


if __name__ == "__main__":
    sys.exit(main())
