"""What the load bench counts as a worker's processor time: each second once, whoever spent it and whether it lives."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path

import psutil
import pytest

from tests.bench import asked
from tests.faults.serving import Serving, wait_until

DECODING_S = 0.6  # of a processor; the other three start and wait, which takes far less
PROCESSES = """
import signal, subprocess, sys, time
me, *others = sys.argv[1:]
signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGUSR1})
child = subprocess.Popen([sys.executable, __file__, *others]) if others else None
if me == "decoder":
    while time.process_time() < DECODING_S:
        pass
    print("decoded", flush=True)
    signal.pause()
if me == "keeper of the worker":
    signal.sigwait({signal.SIGUSR1})
    child.wait()
    print("it has noticed", flush=True)
    signal.pause()
child.wait()
"""


class Site:
    """Supervisor, keeper of the worker, worker, decoder: each the child of the one before."""

    everybody = Serving.everybody

    def __init__(self, folder: Path) -> None:
        script = folder / "processes.py"
        script.write_text(PROCESSES.replace("DECODING_S", str(DECODING_S)))
        command = [sys.executable, script, "supervisor", "keeper of the worker", "worker", "decoder"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, text=True)
        assert self.says() == "decoded\n"
        self.keeper, self.worker, self.decoder = self.everybody()

    def says(self) -> str:
        assert self.process.stdout is not None
        return self.process.stdout.readline()

    def end(self) -> None:
        for one in (*self.everybody(), self.process):
            one.kill()
        self.process.communicate()


def test_a_decoders_time_counts_once_while_it_runs_when_its_worker_has_ended_and_when_that_was_noticed(tmp_path: Path):
    site = Site(tmp_path)
    try:
        while_it_runs = asked.processor_s(site, "worker")
        assert DECODING_S <= while_it_runs < 1.8 * DECODING_S
        site.decoder.kill()
        assert wait_until(lambda: site.worker.status() == psutil.STATUS_ZOMBIE, 30)
        assert asked.processor_s(site, "worker") == pytest.approx(while_it_runs, abs=0.1)
        site.keeper.send_signal(signal.SIGUSR1)
        assert site.says() == "it has noticed\n"
        assert asked.processor_s(site, "worker") == pytest.approx(while_it_runs, abs=0.1)
    finally:
        site.end()
