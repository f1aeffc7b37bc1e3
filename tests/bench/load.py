"""How much one machine carries: pages, uploads, takes an hour, and what a Sunday evening does to the queue.

python -m tests.bench.load            prints the table; ends with 1 if a limit is not held
python -m tests.bench.load --write    lays it into DEVELOPERS.md as well, and keeps what capacity is reckoned from
python -m tests.bench.load --small    tries everything in little: its figures say nothing

The real site is started on a data folder of its own, with SQLite and its own broker. Nothing else should run on the
machine meanwhile: the table's first line tells how busy it was.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def main() -> int:
    parser = argparse.ArgumentParser(description="Pages, uploads and takes that this machine carries.")
    parser.add_argument("--write", action="store_true", help="lay the table into DEVELOPERS.md")
    parser.add_argument("--small", action="store_true", help="try everything in little")
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="footing-load-") as folder:
        var = Path(folder) / "var"
        os.environ.update(FOOTING_VAR=str(var), DJANGO_SETTINGS_MODULE="studio.config.settings", PYTHONPATH=str(ROOT))
        os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba"))

        import django

        django.setup()
        from django.core.management import call_command

        from tests.bench import capacity, carried, figures
        from tests.bench.rows import Row
        from tests.tables import lay_into_guide, markdown

        call_command("migrate", interactive=False, verbosity=0)
        busy = Row("the machine before it began, processes a core", os.getloadavg()[0] / (os.cpu_count() or 1), "")
        rows, found = carried.measure(Path(folder), var, carried.SMALL if arguments.small else carried.WHOLE)
    table = markdown(("what", "measured", "limit", "held"), [row.cells() for row in (busy, *rows)])
    print(table)
    print(found, file=sys.stderr)
    if arguments.write and not arguments.small:
        lay_into_guide("load table", table)
        figures.add(found)
        capacity.write()
    return 0 if all(row.held for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
