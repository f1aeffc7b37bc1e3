"""One web process: whom it shares its port with, how many lines it holds open, and who waits for whom."""

from __future__ import annotations

import http.client
import io
import socket
import subprocess
import sys
import threading
from collections.abc import Iterable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack, closing, contextmanager

import pytest
from django.test import Client

from studio.config import web
from tests.faults.serving import free_port, wait_until

LOCALHOST = "127.0.0.1"
HOLDS = """
import resource
resource.setrlimit(resource.RLIMIT_NOFILE, ({soft}, {hard}))
from studio.config import web
print(web.room_for_lines(), resource.getrlimit(resource.RLIMIT_NOFILE)[0])
"""


def test_a_process_that_is_meant_to_be_alone_shares_its_port_with_none(settings):
    settings.WEB_PROCESSES = 1
    port = free_port()
    with web.open_door(LOCALHOST, port), pytest.raises(OSError, match="in use"):
        web.open_door(LOCALHOST, port)


def test_several_share_the_port(settings):
    settings.WEB_PROCESSES = 2
    port = free_port()
    with web.open_door(LOCALHOST, port), web.open_door(LOCALHOST, port):
        pass


@pytest.mark.parametrize(
    ("soft", "hard", "lines", "files"),
    [
        (1024, 4096, web.LINES, 2 * web.LINES + web.OTHER_FILES),
        (1024, 1024, (1024 - web.OTHER_FILES) // 2, 1024),
        (4096, 4096, web.LINES, 4096),
    ],
    ids=["raised", "not to be raised", "enough"],
)
def test_no_more_lines_are_open_than_there_are_files_for(soft: int, hard: int, lines: int, files: int):
    code = HOLDS.format(soft=soft, hard=hard)
    said = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert said.stdout.split() == [str(lines), str(files)]


class Site:
    """Behind a real server: a recording is kept as long as ``may_go_on`` is not set, a page is answered at once."""

    def __init__(self) -> None:
        self.may_go_on = threading.Event()
        self.lock, self.in_hand, self.most_in_hand = threading.Lock(), 0, 0

    def __call__(self, environ, start_response):  # type: ignore[no-untyped-def]  # WSGI
        if environ["PATH_INFO"] == "/recording":
            with self.lock:
                self.in_hand += 1
                self.most_in_hand = max(self.most_in_hand, self.in_hand)
            assert self.may_go_on.wait(60)
            with self.lock:
                self.in_hand -= 1
        if environ["PATH_INFO"] == "/broken":
            raise ZeroDivisionError
        words = b"words" if environ["PATH_INFO"] in ("/words", "/file") else b""
        start_response("200 OK", [("Content-Length", str(len(words)))])
        return environ["wsgi.file_wrapper"](io.BytesIO(words)) if environ["PATH_INFO"] == "/file" else [words]


@contextmanager
def served(site: Site, threads: int, **adjustments: int) -> Iterator[int]:
    """The port of a server as the web process runs it, which looks at its lines round by round."""
    port = free_port()
    server = web.server(site, web.open_door(LOCALHOST, port), threads, **adjustments)
    over = threading.Event()

    def rounds() -> None:
        while not over.is_set():
            one_round(server)

    loop = threading.Thread(target=rounds)
    loop.start()
    try:
        yield port
    finally:
        site.may_go_on.set()
        over.set()
        loop.join()
        end(server)


def one_round(server: web.Server) -> None:
    server.asyncore.loop(timeout=0.05, use_poll=True, map=server._map, count=1)


def end(server: web.Server) -> None:
    server.task_dispatcher.shutdown()
    server.asyncore.close_all(server._map)


def answered(port: int, path: str, body: bytes | None = None) -> int:
    with closing(http.client.HTTPConnection(LOCALHOST, port, timeout=60)) as line:
        line.request("POST" if body else "GET", path, body=body)
        return line.getresponse().status


def test_a_page_and_its_small_form_wait_for_no_recording_and_every_recording_is_received_in_the_end():
    site, at_once = Site(), 30
    with served(site, threads=8) as port, ThreadPoolExecutor(at_once) as phones:
        recordings = [phones.submit(answered, port, "/recording", bytes(100_000)) for _ in range(at_once)]
        assert wait_until(lambda: site.in_hand == 2, 30)
        assert answered(port, "/page") == answered(port, "/page", b"a small form") == 200
        assert not any(one.done() for one in recordings)
        site.may_go_on.set()
        assert [one.result() for one in recordings] == at_once * [200]
    assert site.most_in_hand == 2


def test_whoever_gives_a_process_one_thread_still_gets_recordings_in():
    site = Site()
    site.may_go_on.set()
    with served(site, threads=1) as port:
        assert answered(port, "/recording", bytes(100_000)) == 200


@pytest.mark.parametrize("room", [1000, 10])
def test_a_round_takes_all_lines_that_wait_at_the_door_and_there_is_room_for(room: int):
    port = free_port()
    server = web.server(Site(), web.open_door(LOCALHOST, port), threads=1, connection_limit=room)
    others = len(server._map)  # what the server itself listens to counts as a line
    with ExitStack() as lines:
        for _ in range(30):
            lines.enter_context(socket.create_connection((LOCALHOST, port)))
        one_round(server)
        assert len(server.active_channels) == min(30, room - others)
        end(server)


@pytest.mark.parametrize("path", ["/words", "/file"])
def test_to_head_there_is_no_word_that_the_next_answer_on_the_line_would_begin_with(path: str):
    sent = f"HEAD {path} HTTP/1.1\r\n\r\nGET {path} HTTP/1.1\r\nConnection: close\r\n\r\n"
    with (
        served(Site(), threads=1) as port,
        closing(socket.create_connection((LOCALHOST, port), timeout=30)) as line,
        line.makefile("rb") as answers,
    ):
        line.sendall(sent.encode())
        head, whole, body = answers.read().split(b"\r\n\r\n")
    assert body == b"words"
    for one in (head, whole):
        assert one.startswith(b"HTTP/1.1 200 OK")
        assert b"\r\nContent-Length: 5\r\n" in one


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        ("POST /recording HTTP/1.1\r\nContent-Length: 100001\r\n\r\n", 413),
        ("POST /recording HTTP/1.1\r\nTransfer-Encoding: chunked\r\n\r\nfffff\r\n" + 100_001 * "x", 413),
        (f"GET /page HTTP/1.1\r\nCookie: {2**18 * 'x'}\r\n\r\n", 431),
        ("GET /page HTTP/1.1\r\nContent-Length: many\r\n\r\n", 400),
        ("GET /page HTTP/1.1\r\nTransfer-Encoding: unheard-of\r\n\r\n", 501),
        ("GET /broken HTTP/1.1\r\n\r\n", 500),
    ],
    ids=["too large", "too large in pieces", "too many headers", "not understood", "not known", "broken"],
)
@pytest.mark.parametrize("is_public", [False, True], ids=["at home", "public"])
def test_what_the_server_says_by_itself_carries_what_a_page_carries(
    client: Client, settings, sent: str, status: int, is_public: bool
) -> None:
    settings.SECURE_SSL_REDIRECT, settings.SECURE_HSTS_SECONDS = is_public, 3600 * is_public
    page = lower_case(client.get("/healthz", secure=is_public).headers.items())
    with (
        served(Site(), threads=1, max_request_body_size=100_000) as port,
        closing(socket.create_connection((LOCALHOST, port), timeout=30)) as line,
        closing(http.client.HTTPResponse(line)) as answer,
    ):
        line.sendall(sent.encode())
        answer.begin()
        carried = lower_case(answer.getheaders())
    assert answer.status == status
    assert {"content-security-policy", "x-content-type-options", "x-frame-options"} <= set(carried)
    assert ("strict-transport-security" in carried) == is_public
    assert len(carried["x-request-id"]) == 32
    of_its_words = {"content-type", "content-length", "content-language", "vary"}
    assert {name for name in page if carried.get(name) != page[name]} == {"x-request-id", *of_its_words}


def lower_case(headers: Iterable[tuple[str, str]]) -> dict[str, str]:
    return {name.lower(): value for name, value in headers}
