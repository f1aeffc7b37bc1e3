"""No process outlives the one that started it."""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1


def end_with_parent(by: signal.Signals = signal.SIGKILL) -> None:
    """Have the kernel send ``by`` to this process when its parent ends, however that ends (Linux only)."""
    if sys.platform != "linux":
        return
    parent = os.getppid()
    libc = ctypes.CDLL(None, use_errno=True)
    if libc.prctl(PR_SET_PDEATHSIG, int(by), 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG) failed")
    if os.getppid() != parent:  # it ended in between: no signal will come
        os.kill(os.getpid(), by)
