"""The truth table: for each measure how far it was off, over how many tones, against what.

python -m tests.reference.truth            prints it
python -m tests.reference.truth --write    lays it into DEVELOPERS.md
"""

from __future__ import annotations

import argparse

from tests.reference.sweep import Found, Sweep, run
from tests.reference.sweeps import ALL
from tests.tables import lay_into_guide, markdown

HEAD = ("measure", "sounded", "against", "unit", "allowed (95 %, worst)", "median", "95 %", "worst", "readings")


def row(sweep: Sweep, found: Found) -> list[str]:
    return [
        sweep.measure,
        sweep.material,
        sweep.source,
        sweep.unit,
        f"{sweep.within:g}, {sweep.worst:g}",
        *(shown(value) for value in (found.median, found.most, found.worst)),
        str(found.tones),
    ]


def shown(error: float) -> str:
    if 0 < error < 0.001:
        return "< 0.001"
    return f"{error:.2g}" if error < 100 else f"{error:.0f}"


def main() -> None:
    parser = argparse.ArgumentParser(description="How far each measure is off, against truths that are not ours.")
    parser.add_argument("--write", action="store_true", help="lay the table into DEVELOPERS.md")
    arguments = parser.parse_args()
    table = markdown(HEAD, [row(sweep, run(sweep)) for sweep in ALL])
    if arguments.write:
        lay_into_guide("truth table", table)
    else:
        print(table)


if __name__ == "__main__":
    main()
