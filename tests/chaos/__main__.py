"""Send takes while parts are killed and the ground shakes; print what was lost and what counted twice.

python -m tests.chaos --takes 1000                   on SQLite, in about ten minutes
python -m tests.chaos --takes 1000 --on postgresql   on a PostgreSQL of its own, which is stopped and started

Status 0: nothing lost, nothing counted twice, one opening a student; what ends its decoder or its worker is tried as
often as is allowed, then set aside and shown. The disk can be filled by root alone, and the clock of the parts jumps
where there is a C compiler; what could not be tried is said.
"""

from __future__ import annotations

import argparse
import os
import secrets
import sys
import tempfile
import time
from contextlib import ExitStack
from dataclasses import asdict
from pathlib import Path
from typing import Any

import psycopg

from tests import servers

ROOT = Path(__file__).resolve().parents[2]
for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[name] = "1"


def main() -> int:
    parser = argparse.ArgumentParser(description="Takes under kills, a full disk, no database and a wrong clock.")
    parser.add_argument("--takes", type=int, default=1000)
    parser.add_argument("--minutes", type=float, default=8.0, help="in which they are sent")
    parser.add_argument("--phones", type=int, default=20)
    parser.add_argument("--kill-every", type=float, default=5.0, metavar="SECONDS", help="on average")
    parser.add_argument("--killers", type=int, default=2, help="takes that kill their worker until they are given up")
    parser.add_argument("--on", choices=("sqlite", "postgresql"), default="sqlite")
    parser.add_argument("--seed", type=int, default=0, help="0: another each time")
    given = parser.parse_args()
    seed = given.seed or secrets.randbelow(10**6)
    with ExitStack() as stack:
        folder = Path(stack.enter_context(tempfile.TemporaryDirectory(prefix="footing-chaos-")))
        folder.chmod(0o711)  # a PostgreSQL of one's own is another user's when root tests
        return _run_in(folder, given, seed, stack)


def _run_in(folder: Path, given: argparse.Namespace, seed: int, stack: ExitStack) -> int:
    var = folder / "var"
    var.mkdir()
    os.environ.update(FOOTING_VAR=str(var), DJANGO_SETTINGS_MODULE="studio.config.settings", PYTHONPATH=str(ROOT))
    os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba"))
    postgres, settings = _database(folder, given.on, stack)
    os.environ.update(settings)

    import django

    from tests.chaos.trouble import Clock, small_disk

    may_fill = stack.enter_context(small_disk(var))
    django.setup()
    from django.core.management import call_command

    from tests.chaos import run

    call_command("migrate", interactive=False, verbosity=0)
    plan = run.Plan(given.takes, given.minutes, given.phones, given.kill_every, given.killers, seed)
    print(f"seed {seed}, {given.on}, from {time.strftime('%H:%M')} …", flush=True)
    clock = Clock(folder)
    outcome = run.run(plan, var, may_fill=may_fill, clock=clock, postgres=postgres, settings=settings)
    for what, how_many in sorted(outcome.done.items()):
        print(f"{how_many:7} {what}")
    for what, found in asdict(outcome.tally).items():
        print(f"{found:7} {what.replace('_', ' ')}")
    print(f"{outcome.seconds:7.0f} seconds in all, the last {outcome.settled_s:.0f} without trouble")
    for missing, words in ((not may_fill, "full disk: not tried"), (not clock.can_jump, "clock: not tried")):
        print(words if missing else "", end="\n" if missing else "")
    print("nothing lost, nothing twice" if outcome.tally.is_good else "FAILED", flush=True)
    if not outcome.tally.is_good:
        print((var.with_suffix(".said")).read_text()[-3000:])
    return int(not outcome.tally.is_good)


def _database(folder: Path, kind: str, stack: ExitStack) -> tuple[Any, dict[str, str]]:
    """The PostgreSQL of this run and what Footing is told of it; nothing for SQLite."""
    if kind == "sqlite":
        return None, {}
    server = servers.start_postgres(folder)
    stack.callback(server.cleanup)  # before its folder goes
    with psycopg.connect(server.get_uri(), autocommit=True) as line:
        line.execute("CREATE DATABASE chaos")
    return server, {"DATABASE_URL": f"postgresql://postgres@/chaos?host={server.get_postmaster_info().socket_dir}"}


if __name__ == "__main__":
    sys.exit(main())
