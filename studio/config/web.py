"""One web process, python -m studio.config.web: waitress on the site's port, which several processes may share."""

from __future__ import annotations

import gc
import resource
import socket
from typing import Any

from django.conf import settings
from waitress.channel import HTTPChannel
from waitress.server import TcpWSGIServer
from waitress.task import ErrorTask, ThreadedTaskDispatcher

from studio.config import headers
from studio.config.wsgi import application

LINES = 1000  # open at once; a slow phone that sends a recording holds a line and no thread
FILES_A_LINE = 2  # the line itself, and the file in which waitress keeps what has come of a recording
OTHER_FILES = 200  # database, broker, recordings that threads store or hand out, and room to spare
WAITING_LINES = 1024  # not yet taken by the process
RECEIVED_BYTES = 2**15  # of a line at a time: with more a page waits longer, with less a recording comes in late
RECORDING_BYTES = 2**16  # a request that brings more brings a recording, or a part of one
THREADS_A_RECORDING = 4  # for pages, to each that keeps recordings beside them


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


class TwoQueues:
    """Hands requests that have come in whole to threads. Recordings wait for recordings, pages for pages.

    In one queue a page would wait until a whole class's recordings are hashed, stored and written down. Those are kept
    few at a time, because all threads of a process share one processor; however many wait, none is refused.
    """

    def __init__(self, threads: int) -> None:
        self.pages, self.recordings = ThreadedTaskDispatcher(), ThreadedTaskDispatcher()
        self.pages.set_thread_count(threads)
        self.recordings.set_thread_count(max(1, threads // THREADS_A_RECORDING))

    def add_task(self, line: HTTPChannel) -> None:
        is_recording = line.requests[0].body_bytes_received > RECORDING_BYTES
        (self.recordings if is_recording else self.pages).add_task(line)

    def shutdown(self) -> None:
        self.pages.shutdown()
        self.recordings.shutdown()


class OwnAnswer(ErrorTask):
    """What the server says without asking the site: too large, not understood. It comes no barer than a page."""

    def execute(self) -> None:
        self.response_headers.extend(headers.without_a_page().items())
        super().execute()


class Line(HTTPChannel):
    error_task_class = OwnAnswer


class Server(TcpWSGIServer):
    """Takes every line that waits at the door before it reads what comes on them.

    One at a time, as waitress does, a page that comes behind two hundred phones would wait until a piece has been read
    from each of them, two hundred times over.
    """

    channel_class = Line

    def handle_accept(self) -> None:
        taken = -1
        while taken < len(self.active_channels) and self.readable():
            taken = len(self.active_channels)
            super().handle_accept()


def heads_alone(application: Any) -> Any:
    """To HEAD a head and nothing else (RFC 9110, section 9.3.2): the server sends whatever it is given, and on a line
    that stays open the next answer, which behind a proxy may be somebody else's, would begin with a page."""

    def answer(environ: dict[str, Any], start_response: Any) -> Any:
        body = application(environ, start_response)
        if environ["REQUEST_METHOD"] != "HEAD":
            return body
        if hasattr(body, "close"):
            body.close()
        return []

    return answer


def server(application: Any, door: socket.socket, threads: int, **adjustments: Any) -> Server:
    """Serves what comes through the door once it is told to run."""
    return Server(
        heads_alone(application),
        _sock=door,
        dispatcher=TwoQueues(threads),
        sockinfo=(door.family, door.type, door.proto, door.getsockname()),
        bind_socket=False,
        asyncore_use_poll=True,
        recv_bytes=RECEIVED_BYTES,
        ident="",
        clear_untrusted_proxy_headers=True,
        **adjustments,
    )


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
    serving = server(
        application,
        open_door(settings.HOST, settings.PORT),
        settings.WEB_THREADS,
        connection_limit=room_for_lines(),
        max_request_body_size=settings.LARGEST_UPLOAD_BYTES + 2**20,  # the form around the recording
        **proxy,
    )
    serving.print_listen("Serving on http://{}:{}")
    serving.run()


if __name__ == "__main__":
    main()
