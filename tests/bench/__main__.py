"""How fast, how large, how steady: the table of the guide, measured in one run on one processor.

python -m tests.bench            prints it; ends with 1 if a limit is not held
python -m tests.bench --write    lays it into DEVELOPERS.md as well
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

for name in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "NUMBA_NUM_THREADS"):
    os.environ[name] = "1"  # before numpy is loaded, and inherited by every child
if hasattr(os, "sched_setaffinity"):
    os.sched_setaffinity(0, {min(os.sched_getaffinity(0))})

from tests.bench import rows  # noqa: E402 - the lines above must come first
from tests.tables import lay_into_guide, markdown  # noqa: E402


def main() -> int:
    parser = argparse.ArgumentParser(description="Speed, memory and instructions of measuring, on one processor.")
    parser.add_argument("--write", action="store_true", help="lay the table into DEVELOPERS.md")
    arguments = parser.parse_args()
    found: list[rows.Row] = []
    with tempfile.TemporaryDirectory() as folder:
        for part in rows.PARTS:
            for row in part(Path(folder)):
                print(f"{row.what}: {row.shown} ({row.limit_shown})", file=sys.stderr, flush=True)
                found.append(row)
    table = markdown(("what", "measured", "limit", "held"), [row.cells() for row in found])
    print(table)
    if arguments.write:
        lay_into_guide("bench table", table)
    return 0 if all(row.held for row in found) else 1


if __name__ == "__main__":
    sys.exit(main())
