"""One supervised process: started in a session of its own, started again when it dies, stopped politely first."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path

from studio.config.lifeline import end_with_parent

FIRST_PAUSE_S, LONGEST_PAUSE_S = 0.5, 30.0
STEADY_S = 60.0  # one that ran this long has recovered: its next death waits the first pause again
LARGEST_LOG_BYTES = 5_000_000
TICK_S = 0.05
STOP_SIGNALS = (signal.SIGINT, signal.SIGTERM, signal.SIGHUP)


@contextmanager
def signals_held() -> Iterator[None]:
    """A wish to stop waits until the new process is known: one that nobody knows would not be stopped."""
    signal.pthread_sigmask(signal.SIG_BLOCK, STOP_SIGNALS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_UNBLOCK, STOP_SIGNALS)


@dataclass(slots=True)
class Child:
    """``stop``: signals in turn, each with the seconds given before the next; after the last comes SIGKILL.

    ``once``: the process has an end of its own; these words are said when it got there.
    """

    name: str
    command: list[str]
    log: Path
    stop: tuple[tuple[signal.Signals, float], ...]
    environment: dict[str, str]
    once: str = ""
    process: subprocess.Popen[bytes] | None = None
    started_s: float = field(default=0.0, init=False)  # on the monotonic clock, as all times here
    again_s: float = field(default=0.0, init=False)
    pause_s: float = field(default=FIRST_PAUSE_S, init=False)

    def start(self) -> None:
        if self.log.exists() and self.log.stat().st_size > LARGEST_LOG_BYTES:
            self.log.replace(self.log.with_suffix(".log.1"))
        with self.log.open("ab") as log, signals_held():
            self.process = subprocess.Popen(
                self.command,
                stdin=subprocess.DEVNULL,
                stdout=log,
                stderr=subprocess.STDOUT,
                env=self.environment,
                start_new_session=True,  # Ctrl-C reaches the supervisor alone, which stops the others in order
                preexec_fn=self._begin,  # safe: the supervisor has one thread
            )
        self.started_s = time.monotonic()

    def _begin(self) -> None:
        """In the new process, before it becomes ``command``."""
        signal.pthread_sigmask(signal.SIG_UNBLOCK, STOP_SIGNALS)
        end_with_parent(self.stop[0][0])

    @property
    def runs(self) -> bool:
        return self.process is not None and self.process.poll() is None

    def mind(self, now_s: float) -> str:
        """Start it again when it has died and its pause is over; answer what happened, in words, or nothing."""
        if self.process is None or self.runs:
            return ""
        if self.once and self.process.returncode == 0:
            self.process = None
            return self.once
        if not self.again_s:
            if now_s - self.started_s > STEADY_S:
                self.pause_s = FIRST_PAUSE_S
            self.again_s = now_s + self.pause_s
            said = f"The {self.name} {self._how_it_ended()}; it starts again in {self.pause_s:g} s. Its log: {self.log}"
            self.pause_s = min(2 * self.pause_s, LONGEST_PAUSE_S)
            return said
        if now_s >= self.again_s:
            self.again_s = 0.0
            self.start()
        return ""

    def _how_it_ended(self) -> str:
        status = self.process.returncode if self.process else 0
        return f"was ended by {signal.Signals(-status).name}" if status < 0 else f"ended with status {status}"

    def end(self, hurried: Callable[[], bool]) -> None:
        """Stop it, by its signals in turn; ``hurried`` is asked meanwhile whether patience is over."""
        for by, patience_s in self.stop:
            if self.process is None or not self.runs:
                break
            self.process.send_signal(by)
            until = time.monotonic() + patience_s
            while self.runs and time.monotonic() < until and not hurried():
                time.sleep(TICK_S)
        if self.process is not None:
            self._kill_what_is_left(self.process)

    @staticmethod
    def _kill_what_is_left(process: subprocess.Popen[bytes]) -> None:
        with suppress(ProcessLookupError):  # nobody is left
            os.killpg(process.pid, signal.SIGKILL)  # its session: the children of a child too
        process.wait()
