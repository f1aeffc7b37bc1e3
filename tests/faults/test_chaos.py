"""Everything is killed while takes come in: a small ``python -m tests.chaos``, and how soon a lost take is back."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator

import pytest

from tests.faults.serving import ROOT

pytestmark = pytest.mark.xdist_group("chaos")  # one after the other: each is load enough


@pytest.mark.parametrize("on", ["sqlite", "postgresql"])
def test_nothing_is_lost_nothing_counts_twice_and_each_gate_opens_once(on: str) -> None:
    small = ["--takes", "40", "--minutes", "1", "--phones", "2", "--kill-every", "3", "--killers", "0", "--on", on]
    run = subprocess.run(
        [sys.executable, "-m", "tests.chaos", *small],
        cwd=ROOT,
        env=dict(_without_settings()),
        capture_output=True,
        text=True,
        timeout=600,
        check=False,
    )
    assert run.returncode == 0, run.stdout + run.stderr
    tally = {words.strip(): int(number) for number, words in (line.split(None, 1) for line in _counts(run.stdout))}
    assert (tally["sent"], tally["received"], tally["lost"], tally["counted twice"]) == (40, 40, 0, 0)
    assert tally["openings"] == tally["openings wanted"] == 2
    assert sum(number for words, number in tally.items() if words.startswith("killed")) >= 5


def _counts(said: str) -> list[str]:
    return [line for line in said.splitlines() if line[:7].strip().isdigit()]


def _without_settings() -> Iterator[tuple[str, str]]:
    """Not those of the other tests: the run has a folder, a database and a broker of its own."""
    for name, value in os.environ.items():
        if not name.startswith("FOOTING_") and name not in ("DATABASE_URL", "REDIS_URL", "DJANGO_SETTINGS_MODULE"):
            yield name, value


def test_a_take_whose_worker_was_killed_is_measured_again_within_a_minute() -> None:
    program = [sys.executable, "-m", "tests.chaos.missed"]
    begun = time.monotonic()
    run = subprocess.run(
        program, cwd=ROOT, env=dict(_without_settings()), capture_output=True, text=True, timeout=300, check=False
    )
    assert run.returncode == 0, run.stdout + run.stderr
    assert 0.0 < float(run.stdout.split()[-1]) <= 60.0
    assert time.monotonic() - begun < 300
