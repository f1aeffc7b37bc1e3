"""How much one machine carries: pages, uploads, takes an hour, and what a Sunday evening does to the queue.

python -m tests.bench.load            prints the table; ends with 1 if a limit is not held
python -m tests.bench.load --write    lays it into DEVELOPERS.md as well

The real site is started on a data folder of its own. Nothing else should run on the machine meanwhile: the table's
first line tells how busy it was.
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
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="footing-load-") as folder:
        var = Path(folder) / "var"
        os.environ.update(FOOTING_VAR=str(var), DJANGO_SETTINGS_MODULE="studio.config.settings", PYTHONPATH=str(ROOT))
        os.environ.setdefault("NUMBA_CACHE_DIR", str(ROOT / "var" / "numba"))

        import django

        django.setup()
        from django.core.management import call_command

        from tests.bench import carried
        from tests.tables import lay_into_guide, markdown

        call_command("migrate", interactive=False, verbosity=0)
        rows = carried.measure(Path(folder), var)
    table = markdown(("what", "measured", "limit", "held"), [row.cells() for row in rows])
    print(table)
    if arguments.write:
        lay_into_guide("load table", table)
    return 0 if all(row.held for row in rows) else 1


if __name__ == "__main__":
    sys.exit(main())
