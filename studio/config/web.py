"""One web process, python -m studio.config.web: waitress on the site's port, which several processes may share."""

from __future__ import annotations

import socket
from typing import Any

import waitress
from django.conf import settings

from studio.config.wsgi import application

LINES = 1000  # open at once; a slow phone that sends a recording holds a line and no thread
WAITING_LINES = 1024  # not yet taken by the process


def open_door(host: str, port: int) -> socket.socket:
    """A socket of this process's own: the system hands each new line to one of those that listen on the port."""
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    return socket.create_server((host, port), family=family, backlog=WAITING_LINES, reuse_port=True)


def main() -> None:
    proxy: dict[str, Any] = {}
    if settings.TRUSTED_PROXY:
        proxy["trusted_proxy"] = settings.TRUSTED_PROXY
        proxy["trusted_proxy_headers"] = "x-forwarded-for x-forwarded-proto"
    waitress.serve(
        application,
        sockets=[open_door(settings.HOST, settings.PORT)],
        threads=settings.WEB_THREADS,
        connection_limit=LINES,
        asyncore_use_poll=True,
        max_request_body_size=settings.LARGEST_UPLOAD_BYTES + 2**20,  # the form around the recording
        ident="",
        clear_untrusted_proxy_headers=True,
        **proxy,
    )


if __name__ == "__main__":
    main()
