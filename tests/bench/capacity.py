"""What 100, 10,000 and 1,000,000 students take: reckoned from what was measured and from what is assumed here.

python -m tests.bench.capacity            prints the table
python -m tests.bench.capacity --write    lays it into DEVELOPERS.md as well

The benches of pages and load keep what they measure in figures.json, and lay this table anew.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass

from tests.bench import figures
from tests.bench.figures import Figures
from tests.tables import lay_into_guide, markdown

STUDENTS = (100, 10_000, 1_000_000)
HEAD = ("what", *(f"{students:,} students" for students in STUDENTS), "from")
ROWS_A_TAKE = ("assignments_take", "analysis_analysis", "analysis_result", "assignments_try")


@dataclass(frozen=True, slots=True)
class Assumed:
    """Nobody measured these: they are what a studio is expected to do. Change one, and every row follows."""

    days_a_week: float = 5.0  # on which a student plays
    takes_a_day: float = 20.0  # of one tone each
    peak_share: float = 0.2  # of a day's takes that come in its busiest hour
    requests_a_take: float = 3.0  # sent, asked whether it is there, asked what came of it
    pages_a_day: float = 10.0  # of a student on such a day
    busy: float = 0.6  # of a processor's time at the peak: the rest keeps the waiting short
    keep_days: float = 60.0  # of recordings
    message_bytes: float = 1000.0  # of two names and an id, in the broker


@dataclass(frozen=True, slots=True)
class Load:
    """Of so many students. ``peak``: in the busiest hour."""

    takes_a_day: float
    takes_a_second_at_peak: float
    requests_a_second_at_peak: float
    workers_at_peak: int
    workers_on_average: float
    web_processes: int
    stored_gb_a_day: float
    stored_gb: float
    rows_a_day: float
    database_gb_a_year: float
    queued_mb_an_hour: float


def load(students: int, measured: Figures, assumed: Assumed) -> Load:
    takes_a_day = students * assumed.takes_a_day * assumed.days_a_week / 7
    peak = takes_a_day * assumed.peak_share / 3600
    pages_a_take = assumed.pages_a_day / assumed.takes_a_day
    requests = peak * (assumed.requests_a_take + pages_a_take)
    bytes_a_take = sum(measured["row_bytes"][table] for table in ROWS_A_TAKE)
    tone_s, page_s = measured["tone_processor_s"], measured["page_processor_s"]
    return Load(
        takes_a_day=takes_a_day,
        takes_a_second_at_peak=peak,
        requests_a_second_at_peak=requests,
        workers_at_peak=math.ceil(peak * tone_s / assumed.busy),
        workers_on_average=takes_a_day * tone_s / 86_400,
        web_processes=math.ceil(requests * page_s / assumed.busy),
        stored_gb_a_day=takes_a_day * measured["tone_bytes"] / 1e9,
        stored_gb=takes_a_day * measured["tone_bytes"] * assumed.keep_days / 1e9,
        rows_a_day=takes_a_day * len(ROWS_A_TAKE),
        database_gb_a_year=365 * takes_a_day * bytes_a_take / 1e9,
        queued_mb_an_hour=3600 * peak * assumed.message_bytes / 1e6,
    )


def table(measured: Figures, assumed: Assumed) -> str:
    loads = [load(students, measured, assumed) for students in STUDENTS]
    bytes_a_take = sum(measured["row_bytes"][one] for one in ROWS_A_TAKE)
    worker_mb, web_mb = measured["worker_mb"], measured["web_process_mb"]
    rows = (
        ("takes a day", "takes_a_day",
         f"{assumed.takes_a_day:g} takes on {assumed.days_a_week:g} days a week, assumed"),
        ("takes a second in the busiest hour", "takes_a_second_at_peak",
         f"{assumed.peak_share:.0%} of a day's takes, assumed"),
        ("requests a second then", "requests_a_second_at_peak",
         f"{assumed.requests_a_take:g} a take and {assumed.pages_a_day:g} pages a day, assumed"),
        ("workers, busiest hour", "workers_at_peak",
         f"{measured['tone_processor_s']:.3f} processor seconds a take, measured; {assumed.busy:.0%} busy, assumed"),
        ("workers busy, on average", "workers_on_average", f"the same; {worker_mb:.0f} MB each, measured"),
        ("web processes, busiest hour", "web_processes",
         f"{1000 * measured['page_processor_s']:.0f} ms a request, measured on pages; {web_mb:.0f} MB each, measured"),
        ("recordings, GB a day", "stored_gb_a_day",
         f"{measured['tone_bytes'] / 1000:.0f} kB a take of {measured['tone_s']:g} s, measured"),
        ("recordings kept, GB", "stored_gb", f"{assumed.keep_days:g} days, as the studio's rule is"),
        ("rows a day", "rows_a_day", "a take, its analysis, its result, its try"),
        ("database, GB more a year", "database_gb_a_year", f"{bytes_a_take:.0f} bytes a take with indexes, measured"),
        ("broker, MB if no worker runs for that hour", "queued_mb_an_hour",
         f"{assumed.message_bytes:g} bytes a message, an upper bound"),
    )  # fmt: skip
    return markdown(HEAD, [(what, *(shown(getattr(one, name)) for one in loads), why) for what, name, why in rows])


def shown(value: float) -> str:
    """Two digits that mean something: these are reckonings."""
    if value < 10:
        return f"{value:.2g}"
    digits = 1 - math.floor(math.log10(value))
    return f"{round(value, digits):,.0f}"


def write() -> str:
    """Lay the table of what was measured last into the guide; the table."""
    found = table(figures.read(), Assumed())
    lay_into_guide("capacity table", found)
    return found


def main() -> int:
    parser = argparse.ArgumentParser(description="Workers, web processes, storage and rows for so many students.")
    parser.add_argument("--write", action="store_true", help="lay the table into DEVELOPERS.md")
    print(write() if parser.parse_args().write else table(figures.read(), Assumed()))
    return 0


if __name__ == "__main__":
    sys.exit(main())
