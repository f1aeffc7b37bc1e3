"""Run everything on this machine: database, broker, worker, web server and sweeper, until it is stopped."""

from __future__ import annotations

import fcntl
import signal
import socket
import sys
import urllib.request
from io import StringIO
from typing import IO, Any

from celery import current_app
from django.conf import settings
from django.core.management import call_command
from django.core.management.base import BaseCommand, CommandParser
from django.db import OperationalError, connections
from kombu.exceptions import OperationalError as BrokerError
from redis.exceptions import RedisError

from studio import founding
from studio.config.supervisor import (
    StopAskedError,
    Supervisor,
    broker_command,
    children_environment,
    manage_command,
    reached_at,
    site_address,
    web_command,
    worker_command,
)

UNREACHABLE = (BrokerError, RedisError, OSError)
BROKER_WITHIN_S = 20
READY_WITHIN_S = 60


class CannotServeError(Exception):
    """It cannot be started; the message says what to do."""


class Command(BaseCommand):
    help = "Starts Footing with everything it needs and keeps it running. Ctrl-C stops it."
    requires_system_checks = []

    def add_arguments(self, parser: CommandParser) -> None:
        parser.add_argument("--host", default=settings.HOST, help="address to listen on (default: %(default)s)")
        parser.add_argument("--port", type=int, default=settings.PORT, help="port to listen on (default: %(default)s)")
        parser.add_argument("--no-demo", action="store_true", help="leave an empty database empty")

    def handle(self, *args: Any, host: str, port: int, no_demo: bool, **options: Any) -> None:
        supervisor = Supervisor(self.say, children_environment(host, port))
        supervisor.catch_signals()
        try:
            with only_one_here():
                refuse_port_that_is_taken(host, port)
                broker = broker_or_refusal()  # before anything is laid that would have to wait for it
                self.prepare_database()
                if settings.PRODUCTION:
                    call_command("collectstatic", interactive=False, verbosity=0)
                self.start_queue(supervisor, broker)
                self.start_site(supervisor)
                if not no_demo and not settings.PRODUCTION:
                    self.lay_demo_studio()
                connections.close_all()
                self.say_when_ready(supervisor, host, port)
                self.let_demo_students_play(supervisor)
                supervisor.run_until(lambda: False)
        except StopAskedError:
            self.say("Stopping: a take that is being measured is finished first. Ctrl-C again stops at once.")
        except CannotServeError as reason:
            sys.exit(str(reason))
        finally:
            supervisor.stop()
        self.say("Footing has stopped.")

    def say(self, sentence: str) -> None:
        self.stdout.write(sentence)
        self.stdout.flush()

    def prepare_database(self) -> None:
        self.say("Preparing the database …")
        try:
            call_command("migrate", interactive=False, verbosity=0)
        except OperationalError as trouble:
            where = "The database of DATABASE_URL" if settings.DATABASE_URL else f"The database in {settings.VAR}"
            raise CannotServeError(
                f"{where} cannot be used: {str(trouble).strip()}. Start it or correct the setting."
            ) from trouble

    def start_queue(self, supervisor: Supervisor, broker: list[str] | None) -> None:
        if broker:
            self.say("Starting the broker and the worker …")
            supervisor.add("broker", broker)
            if not supervisor.run_until(broker_answers, BROKER_WITHIN_S):
                raise CannotServeError(
                    f"The broker does not answer. Its log says why: {settings.VAR / 'log' / 'broker.log'}"
                )
        elif not broker_answers():
            self.say("The Redis server of REDIS_URL does not answer: takes are kept and measured when it does.")
        supervisor.add("worker", worker_command(), ((signal.SIGTERM, 80.0), (signal.SIGQUIT, 10.0)))

    def lay_demo_studio(self) -> None:
        if founding.is_empty():
            self.say("Making the demo studio …")
            settings.DEMO_UNPLAYED_FILE.touch()
            call_command("demo_studio", stdout=StringIO())  # the sign-ins are said when they can be used

    def let_demo_students_play(self, supervisor: Supervisor) -> None:
        """Their past, rendered and measured while the site is already there; taken up again at the next start."""
        unplayed = settings.DEMO_UNPLAYED_FILE
        if unplayed.exists():
            self.say("The demo students play their last weeks meanwhile: their pages fill by and by.")
            command = manage_command("demo_takes")
            supervisor.add("demo students", command, once="The demo students have played; all of it is measured.")
            supervisor.run_until(lambda: not supervisor.has("demo students"))
            unplayed.unlink(missing_ok=True)

    def start_site(self, supervisor: Supervisor) -> None:
        self.say("Starting the web server …")
        for number in range(1, settings.WEB_PROCESSES + 1):
            name = "web server" if settings.WEB_PROCESSES == 1 else f"web server {number}"
            supervisor.add(name, web_command(), ((signal.SIGINT, 30.0), (signal.SIGTERM, 5.0)))
        supervisor.add("sweeper", manage_command("sweep", f"--every={settings.SWEEP_EVERY_S}"))

    def say_when_ready(self, supervisor: Supervisor, host: str, port: int) -> None:
        address = site_address(reached_at(host), port)
        working = supervisor.run_until(
            lambda: site_answers(address) and (worker_answers() or not broker_answers()), READY_WITHIN_S
        )
        if not working:
            self.say(f"This takes long. The logs say why: {settings.VAR / 'log'}")
            supervisor.run_until(lambda: site_answers(address))
        self.say(f"\nFooting is ready: {settings.ORIGINS[0] if settings.ORIGINS else address}/")
        if settings.DEMO_SIGN_INS_FILE.exists():
            self.say("Demo sign-ins (user name, password, who):")
            self.say(settings.DEMO_SIGN_INS_FILE.read_text().rstrip())
        self.say("Ctrl-C stops it.")


def only_one_here() -> IO[str]:
    """The lock on the data folder, held until it is closed.

    :raises CannotServeError: the folder cannot be written, or another Footing runs on it.
    """
    if settings.VAR_PROBLEM:
        raise CannotServeError(settings.VAR_PROBLEM)
    lock = (settings.VAR / "serve.lock").open("a")
    try:
        fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError as held:
        raise CannotServeError(
            f"Footing is already running on the data folder {settings.VAR}. "
            "Stop it first, or name another folder in FOOTING_VAR."
        ) from held
    return lock


def refuse_port_that_is_taken(host: str, port: int) -> None:
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    with socket.socket(family) as probe:
        probe.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        try:
            probe.bind((host, port))
            probe.listen()
        except (OSError, OverflowError) as trouble:
            raise CannotServeError(
                f"Port {port} of {host} cannot be opened ({getattr(trouble, 'strerror', None) or trouble}). "
                "Stop the program that uses it, or choose another: manage.py serve --port 8091"
            ) from trouble


def broker_or_refusal() -> list[str] | None:
    """How to start our own broker, or nothing when another is named."""
    try:
        return broker_command()
    except LookupError as missing:
        raise CannotServeError(str(missing)) from missing


def broker_answers() -> bool:
    try:
        with current_app.connection_for_write() as connection:
            connection.default_channel.client.ping()
    except UNREACHABLE:
        return False
    return True


def worker_answers() -> bool:
    try:
        return bool(current_app.control.ping(timeout=0.5, limit=1))
    except UNREACHABLE:
        return False


def site_answers(address: str) -> bool:
    asked = urllib.request.Request(f"{address}/healthz", headers={"Host": "localhost"})  # a name that every site has
    try:
        with urllib.request.urlopen(asked, timeout=2) as answer:
            return bool(answer.status == 200)
    except OSError:
        return False
