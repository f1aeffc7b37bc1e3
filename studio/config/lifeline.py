"""No process outlives the one that started it."""

import ctypes
import os
import signal
import sys

PR_SET_PDEATHSIG = 1
# Loaded here: between fork and exec nothing may be loaded.
_libc = ctypes.CDLL(None, use_errno=True) if sys.platform == "linux" else None


def end_with_parent(by: signal.Signals = signal.SIGKILL) -> None:
    """Have the kernel send ``by`` to this process when its parent ends, however that ends (Linux only)."""
    if _libc is None:
        return
    parent = os.getppid()
    if _libc.prctl(PR_SET_PDEATHSIG, int(by), 0, 0, 0) != 0:
        raise OSError(ctypes.get_errno(), "prctl(PR_SET_PDEATHSIG) failed")
    if os.getppid() != parent:  # it ended in between: no signal will come
        os.kill(os.getpid(), by)
