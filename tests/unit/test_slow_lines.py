"""Lines on which somebody listens slowly, or hangs up: no page waits for them, and the log tells none of their
addresses."""

from __future__ import annotations

import json
import logging
import socket
import uuid
from collections.abc import Callable, Iterable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

import psutil
import pytest
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.core.handlers.wsgi import WSGIHandler
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis
from studio.config.logs import JsonLine
from tests import builders, people
from tests.faults.serving import wait_until
from tests.unit.test_web_process import LOCALHOST, Site, answered, served

THREADS = 2
LARGE_BYTES = 40 * 2**20  # more than the server and the system hold of a line that nobody reads from


class OnePage(Site):
    def __init__(self, page: Callable[..., Iterable[bytes]]) -> None:
        super().__init__()
        self.page = page

    def __call__(self, environ: Any, start_response: Any) -> Iterable[bytes]:
        return self.page(environ, start_response)


def asks(port: int, address: str, cookie: str = "") -> socket.socket:
    line = socket.create_connection((LOCALHOST, port), timeout=30)
    line.sendall(f"GET {address} HTTP/1.1\r\nHost: {LOCALHOST}\r\nCookie: {cookie}\r\n\r\n".encode())
    return line


def is_open(name: str) -> bool:
    return any(one.path.endswith(name) for one in psutil.Process().open_files())


@pytest.mark.django_db(transaction=True)
def test_who_listens_slowly_to_a_large_recording_holds_up_no_page(settings, tmp_path: Path) -> None:
    settings.MEDIA_ROOT = tmp_path
    studio = people.studio()
    shown = builders.demonstration(studio)
    name = default_storage.save(f"sh/{uuid.uuid4()}", ContentFile(bytes(LARGE_BYTES)))
    Analysis.objects.filter(pk=shown.analysis_id).update(audio=name, audio_bytes=LARGE_BYTES)
    browser = Client()
    browser.force_login(people.teacher(studio).user)
    cookie = browser.cookies.output(header="", attrs=[]).strip()
    address = reverse("demonstration_audio", args=[shown.pk])
    with served(OnePage(WSGIHandler()), THREADS) as port, ExitStack() as lines:
        slow = [lines.enter_context(asks(port, address, cookie)) for _ in range(2 * THREADS)]
        assert all(line.recv(12) == b"HTTP/1.1 200" for line in slow)
        assert answered(port, reverse("alive")) == 200
        got = 12
        while more := slow[0].recv(2**20):
            got += len(more)
            if got > LARGE_BYTES:
                break
        assert got > LARGE_BYTES  # all of it comes in the end
        assert is_open(name)
        lines.close()
        assert wait_until(lambda: not is_open(name), 30)


@pytest.mark.parametrize("happens", ["it hangs up", "the page breaks"])
def test_what_the_server_says_of_a_line_tells_no_address(monkeypatch, caplog, happens: str) -> None:
    """A calendar's key is part of its own."""
    caplog.set_level(logging.INFO)
    written: list[str] = []
    monkeypatch.setattr(caplog.handler, "emit", lambda record: written.append(JsonLine().format(record)))

    def page(_environ: Any, start_response: Any) -> Iterable[bytes]:
        write = start_response("200 OK", [])
        while happens == "it hangs up":
            write(bytes(2**20))
        raise ZeroDivisionError

    with served(OnePage(page), THREADS) as port:
        with asks(port, "/calendar/marmalade%0Amarmalade.ics") as line:
            line.recv(12)
        assert wait_until(lambda: any("while serving" in one for one in written), 30)
    assert not [one for one in written if "marmalade" in one]
    assert [json.loads(one)["event"].endswith("while serving an address") for one in written if "serving" in one] == [
        True
    ]
