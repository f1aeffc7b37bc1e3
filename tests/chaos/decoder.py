"""Footing's decoder with two weaknesses, so that a file can be poison: it ends its decoder, or its worker's child."""

import os
import signal
import sys
from pathlib import Path

sys.path.append(str(Path(__file__).resolve().parents[2]))  # it is started alone, as decoders are

from analysis import decoding

KILLS_DECODER, KILLS_WORKER = b"I end my decoder. ", b"I end my worker. "


def weakly(descriptor: int, longest_s: float) -> None:
    begins = os.pread(descriptor, len(KILLS_DECODER), 0)
    if begins.startswith(KILLS_WORKER):
        os.kill(os.getppid(), signal.SIGKILL)
    if begins.startswith((KILLS_DECODER, KILLS_WORKER)):
        os.kill(os.getpid(), signal.SIGSEGV)
    decode(descriptor, longest_s)


if __name__ == "__main__":
    decoding.close_the_doors()
    decode, decoding.decode = decoding.decode, weakly
    decoding.main()
