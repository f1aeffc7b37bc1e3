"""How fast a teacher's pages are with sixty students and a year of history, on PostgreSQL on the loopback address.

python -m tests.bench.pages            prints the table; ends with 1 if a limit is not held
python -m tests.bench.pages --write    lays it into DEVELOPERS.md as well

A page is asked for inside one process, through every part of the site that a request passes. "Processor" is that
process's own work; on a machine that does other things besides, the times are longer than it.
"""

from __future__ import annotations

import argparse
import os
import statistics
import sys
import time
from collections.abc import Callable
from functools import partial
from typing import Any, LiteralString

import django
import psycopg
from django.db import connections
from psycopg import sql

from tests import servers
from tests.bench import capacity, figures
from tests.tables import lay_into_guide, markdown

FIRST, TIMES = 5, 60  # not timed, and timed
MOST_MS, MOST_QUERIES = 150, 15
HEAD = ("page", "processor", "median", "95 in 100 within", "limit", "queries", "limit", "held")


def main() -> int:
    parser = argparse.ArgumentParser(description="The teacher's pages with sixty students and a year of history.")
    parser.add_argument("--write", action="store_true", help="lay the table into DEVELOPERS.md")
    arguments = parser.parse_args()
    os.environ["TEST_ON"] = "postgresql"
    os.environ.update(servers.environment())
    os.environ.setdefault("FOOTING_LOG_LEVEL", "WARNING")
    _database(os.environ["DATABASE_URL"], "DROP DATABASE IF EXISTS {}", "CREATE DATABASE {}")
    django.setup()
    try:
        lines = _measured()
        row_bytes = _row_bytes()
    finally:
        connections.close_all()
        _database(os.environ["DATABASE_URL"], "DROP DATABASE {} WITH (FORCE)")
    table = markdown(HEAD, lines)
    print(table)
    if arguments.write:
        lay_into_guide("pages table", table)
        figures.add({"row_bytes": row_bytes})
        capacity.write()
    return 0 if all(line[-1] == "yes" for line in lines) else 1


def _database(url: str, *orders: LiteralString) -> None:
    """Make or drop the database of this run."""
    before, _mark, rest = url.rpartition("/")
    name, mark, after = rest.partition("?")
    with psycopg.connect(f"{before}/postgres{mark}{after}", autocommit=True) as connection:
        for order in orders:
            connection.execute(sql.SQL(order).format(sql.Identifier(name)))


def _measured() -> list[tuple[str, ...]]:
    from django.core.management import call_command
    from django.db import connection
    from django.test import Client
    from django.urls import reverse

    call_command("migrate", verbosity=0)
    from studio.config import web
    from tests.bench import sixty

    _where, horns = sixty.lay()
    with connection.cursor() as cursor:
        cursor.execute("VACUUM ANALYZE")  # as the server does by itself in the course of a year
    client, student = Client(headers={"Host": "localhost"}), Client(headers={"Host": "localhost"})
    for who, user in (
        (client, horns[0].studio.memberships.get(user__username="marisa").user),
        (student, horns[7].player.user),
    ):
        who.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
    pages = (
        ("studio, 60 students", client, reverse("studio_today")),
        ("everyone, sorted by gate", client, reverse("everyone") + "?sort=gate"),
        ("one student, a year", client, reverse("student", args=[horns[7].pk])),
        ("one student's gates", client, reverse("gate", args=[horns[7].pk])),
        ("one student's week", client, reverse("week", args=[horns[7].pk])),
        ("everyone's week", client, reverse("many_weeks")),
        ("Today, as the student", student, reverse("today")),
    )
    web.freeze()  # what laying left is not the site's
    return [_line(name, partial(who.get, address)) for name, who, address in pages]


def _row_bytes() -> dict[str, float]:
    """By table, with its indexes, as the students' year fills it."""
    from django.db import connection

    found = {}
    with connection.cursor() as cursor:
        for table in capacity.ROWS_A_TAKE:
            name = connection.ops.quote_name(table)
            cursor.execute(f"SELECT pg_total_relation_size(%s)::float / count(*) FROM {name}", [table])
            found[table] = round(cursor.fetchone()[0])
    return found


def _line(name: str, ask: Callable[[], Any]) -> tuple[str, ...]:
    from django.db import connection
    from django.test.utils import CaptureQueriesContext

    taken, worked = [], []
    for number in range(FIRST + TIMES):
        began, busy = time.perf_counter(), time.process_time()
        answer = ask()
        if number >= FIRST:
            taken.append(1000 * (time.perf_counter() - began))
            worked.append(1000 * (time.process_time() - busy))
        assert answer.status_code == 200, (name, answer.status_code)
    with CaptureQueriesContext(connection) as asked:
        ask()
    within = statistics.quantiles(taken, n=20)[-1]
    limited = name.startswith(("studio", "everyone, "))
    held = within <= MOST_MS and (not limited or len(asked) <= MOST_QUERIES)
    print(f"{name}: {within:.0f} ms, {len(asked)} queries", file=sys.stderr, flush=True)
    return (
        name,
        f"{statistics.median(worked):.0f} ms",
        f"{statistics.median(taken):.0f} ms",
        f"{within:.0f} ms",
        f"at most {MOST_MS} ms",
        str(len(asked)),
        f"at most {MOST_QUERIES}" if limited else "no limit",
        "yes" if held else "NO",
    )


if __name__ == "__main__":
    sys.exit(main())
