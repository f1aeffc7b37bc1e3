"""The data folder: what Footing keeps on this machine when nothing else is configured.

Everything in it is readable by its owner alone: recordings of people, the database and the secret key.
"""

from __future__ import annotations

import hashlib
import os
import secrets
import tempfile
from pathlib import Path

PRIVATE_FOLDER = 0o700
LONGEST_SOCKET_PATH = 100  # a Unix socket's path ends at 107 bytes; Redis and its clients need a few of them
NETWORK_FILE_SYSTEMS = ("nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "ceph", "glusterfs", "lustre", "fuse.sshfs")


def prepare(var: Path) -> str:
    """Make the folder and its parts; answer a sentence that says what to do when that fails, else nothing."""
    try:
        for part in (var, var / "takes", var / "static", var / "log", var / "numba"):
            part.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
        with tempfile.TemporaryFile(dir=var):
            return ""
    except OSError as trouble:
        return (
            f"Footing cannot write to its data folder {var} ({trouble.strerror}). "
            "Make it writable, or name another folder in FOOTING_VAR."
        )


def secret_key(file: Path) -> str:
    """The key kept in ``file``, made on first use; of several processes that make it at once one wins."""
    if not file.exists():
        descriptor, draft = tempfile.mkstemp(dir=file.parent)  # mode 0600
        with os.fdopen(descriptor, "w") as draft_file:
            draft_file.write(secrets.token_urlsafe(64))
        try:
            os.link(draft, file)
        except FileExistsError:  # another process was first: its key is the one that counts
            pass
        finally:
            os.unlink(draft)
    return file.read_text()


def socket_file(var: Path) -> Path:
    """Where the own broker listens: in the data folder, or in a private short-named one when that path is too long."""
    inside = var / "redis.sock"
    if len(os.fsencode(inside)) <= LONGEST_SOCKET_PATH:
        return inside
    name = hashlib.sha256(os.fsencode(var)).hexdigest()[:12]
    return Path(tempfile.gettempdir()) / f"footing-{os.getuid()}-{name}" / "redis.sock"


def mounts() -> str:
    """What is mounted where, a line each; nothing on systems that do not tell."""
    file = Path("/proc/self/mounts")
    return file.read_text() if file.exists() else ""


def network_file_system(folder: Path, mounted: str) -> str:
    """The kind of network file system that holds ``folder``, or nothing; ``mounted``: as :func:`mounts` answers."""
    kinds = {fields[1]: fields[2] for fields in map(str.split, mounted.splitlines()) if len(fields) > 2}
    nearest = next((str(p) for p in (folder, *folder.parents) if str(p) in kinds), "")
    kind = kinds.get(nearest, "")
    return kind if kind in NETWORK_FILE_SYSTEMS else ""
