"""Known holes in what is installed: ``python -m tests.audit``.

Everything in this environment, what the pinned packages bring along too. Status 0: every package was looked up and
none has a known hole. 1: a hole. 75 (EX_TEMPFAIL): neither list of holes could be asked about every package; then
nothing is known, and that is said. ``PIP_AUDIT_OSV_URL`` names a copy of the second list that is nearer.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Sequence

LISTS = ("pypi", "osv")  # the second is asked where the first doesn't know
NOT_KNOWN = os.EX_TEMPFAIL
WITHIN_S = 120


def ask(of: str) -> subprocess.CompletedProcess[str]:
    """What list ``of`` says about every package that is installed here."""
    command = [sys.executable, "-m", "pip_audit", "--local", "--vulnerability-service", of]
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


def look_up(lists: Sequence[str] = LISTS) -> tuple[int, list[str]]:
    status, words = verdict(ask(lists[0]))
    return look_up(lists[1:]) if status == NOT_KNOWN and lists[1:] else (status, words)


def main() -> int:
    status, words = look_up()
    print("\n".join(words))
    return status


if __name__ == "__main__":
    sys.exit(main())
