"""One web process, python -m studio.config.web: waitress on the site's port, which several processes may share."""

from __future__ import annotations

import gc
import resource
import socket
from typing import Any

import waitress
from django.conf import settings

from studio.config.wsgi import application

LINES = 1000  # open at once; a slow phone that sends a recording holds a line and no thread
FILES_A_LINE = 2  # the line itself, and the file in which waitress keeps what has come of a recording
OTHER_FILES = 200  # database, broker, recordings that threads store or hand out, and room to spare
WAITING_LINES = 1024  # not yet taken by the process


def open_door(host: str, port: int) -> socket.socket:
    """A socket of this process's own: the system hands each new line to one of those that listen on the port.

    A process that is meant to be alone shares it with none: a second one would take half of its lines unseen.
    """
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    is_shared = settings.WEB_PROCESSES > 1
    return socket.create_server((host, port), family=family, backlog=WAITING_LINES, reuse_port=is_shared)


def room_for_lines() -> int:
    """How many lines may be open at once. As many files as they take are asked of the system, which may grant fewer."""
    wanted = LINES * FILES_A_LINE + OTHER_FILES
    granted, most = resource.getrlimit(resource.RLIMIT_NOFILE)
    if granted == resource.RLIM_INFINITY:
        return LINES
    if granted < wanted:
        granted = wanted if most == resource.RLIM_INFINITY else min(wanted, most)
        resource.setrlimit(resource.RLIMIT_NOFILE, (granted, most))
    return max(1, min(LINES, (granted - OTHER_FILES) // FILES_A_LINE))


def freeze() -> None:
    """What is loaded by now stays as long as the process: Python need not search it for garbage again and again,
    which would hold up a page now and then."""
    gc.collect()
    gc.freeze()


def main() -> None:
    proxy: dict[str, Any] = {}
    if settings.TRUSTED_PROXY:
        proxy["trusted_proxy"] = settings.TRUSTED_PROXY
        proxy["trusted_proxy_headers"] = "x-forwarded-for x-forwarded-proto"
    freeze()
    waitress.serve(
        application,
        sockets=[open_door(settings.HOST, settings.PORT)],
        threads=settings.WEB_THREADS,
        connection_limit=room_for_lines(),
        asyncore_use_poll=True,
        max_request_body_size=settings.LARGEST_UPLOAD_BYTES + 2**20,  # the form around the recording
        ident="",
        clear_untrusted_proxy_headers=True,
        **proxy,
    )


if __name__ == "__main__":
    main()
