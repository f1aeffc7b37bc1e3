"""Any phone's file -> blocks of 24 kHz mono sound, decoded by a child process (``analysis.decoding``).

The file is opened here, once, without following links; the child gets the open descriptor and no name. What comes
back is bounded in size and time and checked: a child that breaks, hangs or is killed is a ``Fault``, never an error
of ours, and nothing of it is left behind.
"""

from __future__ import annotations

import atexit
import contextlib
import fcntl
import hashlib
import json
import logging
import os
import select
import signal
import socket
import stat
import struct
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.measure import measure
from analysis.core.records import AudioInfo
from analysis.core.spectrum import SAMPLE_RATE_HZ
from analysis.faults import CODES, Fault

if TYPE_CHECKING:
    from analysis.core.records import Floats, Measurement, Request

log = logging.getLogger(__name__)

LONGEST_S = 25 * 60.0
LONGEST_WAIT_S = 45.0  # for the child, in all; the child's own processor limit is 20 s
MOST_BLOCK_BYTES, MOST_WORDS_BYTES = 16 << 20, 1 << 20
PIPE_BYTES = 1 << 20  # two blocks; the most that Linux grants to everyone
DECODER = Path(__file__).with_name("decoding.py")
CUT_SHORT_S, CUT_SHORT_SHARE = 0.5, 0.02  # less than the head promises by this much: the file was cut


def hear(path: str | os.PathLike[str], request: Request, *, longest_s: float = LONGEST_S) -> Measurement:
    """One file, measured. Raises ``Fault``."""
    with read(path, longest_s=longest_s) as recording:
        return measure(recording, lambda: recording.info, request)


def read_through(path: str | os.PathLike[str], *, longest_s: float) -> None:
    """Decode one file to its end and keep nothing of it: whoever is given it gets sound. Raises ``Fault``."""
    with read(path, longest_s=longest_s) as recording:
        for _block in recording:
            pass


@contextmanager
def read(path: str | os.PathLike[str], *, longest_s: float = LONGEST_S) -> Iterator[Recording]:
    """The recording in that file, to be iterated over once; ``info`` is complete after that. Raises ``Fault``."""
    descriptor = _open(path)
    decoder = None
    try:
        size = os.fstat(descriptor).st_size
        sha256 = _sha256(descriptor)
        decoder = _spare_or_new()
        decoder.take(descriptor, longest_s)
        yield Recording(decoder, sha256, size, longest_s)
    finally:
        os.close(descriptor)
        if decoder is not None:
            decoder.end()
        if Decoder.keep_spare:
            warm()


class Recording:
    """Iterate for float32 blocks of 24 kHz mono; after that, also after a ``Fault``, ``info`` says what it was."""

    def __init__(self, decoder: Decoder, sha256: str, size: int, longest_s: float) -> None:
        self.info = AudioInfo(0.0, 0, 0, "", sha256)
        self._decoder, self._size, self._most_samples = decoder, size, (longest_s + 10.0) * SAMPLE_RATE_HZ

    def __iter__(self) -> Iterator[Floats]:
        samples, fault = 0, None
        while True:
            kind, content = self._decoder.message()
            if kind == b"b":
                block = np.frombuffer(content, dtype=np.float32)
                samples += len(block)
                if samples > self._most_samples or not np.isfinite(block).all():
                    raise Fault("cannot_be_read_safely")
                yield block
            elif kind == b"f":
                fault = content.decode("ascii", "replace")
            elif kind == b"i":
                self.info = self._described(bytes(content), samples)
                if fault is not None:
                    raise Fault(fault if fault in CODES else "cannot_be_read_safely", self.info)
                return
            else:
                raise Fault("cannot_be_read_safely")

    def _described(self, content: bytes, samples: int) -> AudioInfo:
        """What the child says of the file; a child that was taken over may say anything."""
        duration_s = samples / SAMPLE_RATE_HZ
        try:
            said = json.loads(content)
            missing_s = float(said.get("promised_s", 0.0)) - duration_s
            return AudioInfo(
                duration_s=duration_s,
                sample_rate_hz=int(said.get("sample_rate_hz") or 0),
                channels=int(said.get("channels") or 0),
                codec=str(said.get("codec") or "")[:40],
                sha256=self.info.sha256,
                bit_rate_bps=round(8 * self._size / duration_s) if samples else None,
                truncated=bool(said["truncated"]) or missing_s > max(CUT_SHORT_S, CUT_SHORT_SHARE * duration_s),
                clipped_at_s=tuple(float(at_s) for at_s in said["clipped_at_s"]),
            )
        except (ValueError, TypeError, KeyError, AttributeError, RecursionError) as error:
            raise Fault("cannot_be_read_safely") from error


class Decoder:
    """One child process, for one file."""

    keep_spare = False  # a long-lived worker starts the next child while nobody waits for it

    def __init__(self) -> None:
        self.owner = os.getpid()
        self._waited_s = 0.0
        self._socket, theirs = socket.socketpair()
        kept = {name: os.environ[name] for name in ("LD_LIBRARY_PATH",) if name in os.environ}
        with theirs:
            self._process = subprocess.Popen(
                [sys.executable, "-I", os.fspath(DECODER)],
                stdin=theirs.fileno(),
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                cwd="/",
                env=kept | {"OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"},
                start_new_session=True,
            )

        if hasattr(fcntl, "F_SETPIPE_SZ") and self._process.stdout is not None:
            with contextlib.suppress(OSError):  # a system that grants less: slower, nothing else
                fcntl.fcntl(self._process.stdout, fcntl.F_SETPIPE_SZ, PIPE_BYTES)  # so that both can work at once

    @property
    def alive(self) -> bool:
        return self.owner == os.getpid() and self._process.poll() is None

    def take(self, descriptor: int, longest_s: float) -> None:
        """Hand it the open file."""
        try:
            ready = self._exactly(5) == b"r\0\0\0\0"
        except Fault:
            ready = False
        if not ready:
            raise RuntimeError(f"The decoder does not start: try `{sys.executable} -I {DECODER}`.")
        with contextlib.suppress(BrokenPipeError):  # it died meanwhile: the next message() says so
            socket.send_fds(self._socket, [str(longest_s).encode()], [descriptor])

    def message(self) -> tuple[bytes, bytearray]:
        """The next message: its letter and content."""
        head = bytes(self._exactly(5))
        kind, size = head[:1], struct.unpack("<I", head[1:])[0]
        if size > (MOST_BLOCK_BYTES if kind == b"b" else MOST_WORDS_BYTES):
            raise Fault("cannot_be_read_safely")
        return kind, self._exactly(size)

    def _exactly(self, count: int) -> bytearray:
        assert self._process.stdout is not None
        content, got = bytearray(count), 0
        poll = select.poll()
        poll.register(self._process.stdout, select.POLLIN | select.POLLHUP)
        while got < count:
            began = time.monotonic()
            ready = poll.poll(max(0.0, LONGEST_WAIT_S - self._waited_s) * 1000)
            self._waited_s += time.monotonic() - began
            read = os.readv(self._process.stdout.fileno(), [memoryview(content)[got:]]) if ready else 0
            if read == 0:
                log.warning("decoder %s", "broke off" if ready else "took too long")
                raise Fault("cannot_be_read_safely")
            got += read
        return content

    def end(self) -> None:
        """Leave nothing of it behind."""
        if self.owner != os.getpid():
            return  # a copy that came with a fork: not ours
        if self._process.returncode is None:  # not yet waited for: its number is still its own
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait()
        assert self._process.stdout is not None
        self._process.stdout.close()
        self._socket.close()


_spare: list[Decoder] = []


def warm() -> None:
    """For workers: have a decoder waiting from now on, so that no take pays for starting one."""
    Decoder.keep_spare = True
    if not any(decoder.alive for decoder in _spare):
        _spare[:] = [Decoder()]


def _spare_or_new() -> Decoder:
    while _spare:
        decoder = _spare.pop()
        if decoder.alive:
            return decoder
        decoder.end()
    return Decoder()


@atexit.register
def _end_spare() -> None:
    while _spare:
        _spare.pop().end()


def _open(path: str | os.PathLike[str]) -> int:
    """The descriptor of a regular file that is no link; opening never waits (a pipe would)."""
    try:
        descriptor = os.open(path, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC)
    except (OSError, ValueError) as error:  # ValueError: a null character in the name
        raise Fault("not_a_file") from error
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):
        os.close(descriptor)
        raise Fault("not_a_file")
    return descriptor


def _sha256(descriptor: int) -> str:
    with open(descriptor, "rb", closefd=False) as file:
        digest = hashlib.file_digest(file, "sha256").hexdigest()
    os.lseek(descriptor, 0, os.SEEK_SET)
    return digest
