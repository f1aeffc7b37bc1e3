"""An installed package with a known hole is found: asked over a real connection of a list that is laid here."""

from __future__ import annotations

import importlib.metadata
import json
import re
import threading
from collections.abc import Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import pytest

from tests import audit

Pins = dict[str, str]
SCHEMA = "1.7.0"


class Advisories(ThreadingHTTPServer):
    """Answers as the OSV API does (https://google.github.io/osv.dev/post-v1-query/)."""

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Answers)
        self.holes: dict[tuple[str, str], str] = {}  # package and version: the version that is mended
        self.asked: Pins = {}
        self.status = 200

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.server_address[1]}/v1/query"


class Answers(BaseHTTPRequestHandler):
    server: Advisories

    def do_POST(self) -> None:
        asked = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        name, version = asked["package"]["name"], asked["version"]
        self.server.asked[name] = version
        mended = self.server.holes.get((name, version))
        body = json.dumps({"vulns": [hole(name, mended)]} if mended else {}).encode()
        self.send_response(self.server.status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, *_args: object) -> None:
        """Nothing to say."""


def hole(package: str, mended: str) -> dict[str, object]:
    events = [{"introduced": "0"}, {"fixed": mended}]
    return {
        "schema_version": SCHEMA,
        "id": "TEST-2026-0001",
        "summary": "An invented hole.",
        "modified": "2026-11-01T00:00:00Z",
        "affected": [
            {
                "package": {"ecosystem": "PyPI", "name": package},
                "ranges": [{"type": "ECOSYSTEM", "events": events}],
            }
        ],
    }


@pytest.fixture
def advisories(monkeypatch: pytest.MonkeyPatch) -> Iterator[Advisories]:
    with Advisories() as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        monkeypatch.setenv("PIP_AUDIT_OSV_URL", server.url)
        yield server
        server.shutdown()


def installed() -> Pins:
    """Every package here, in the spelling of an index."""
    return {
        re.sub(r"[-_.]+", "-", one.metadata["Name"]).lower(): one.version for one in importlib.metadata.distributions()
    }


def test_everything_that_is_installed_is_asked_about_and_passes_when_none_is_named(advisories: Advisories) -> None:
    assert audit.look_up(["osv"]) == (0, [f"{len(installed())} packages, no known hole"])
    assert advisories.asked == installed()
    assert {"django", "kombu"} <= advisories.asked.keys()  # pinned, and brought along by one that is


@pytest.mark.parametrize("name", ["django", "kombu"])
def test_a_package_with_a_known_hole_is_found_and_where_it_is_mended_said(advisories: Advisories, name: str) -> None:
    version = installed()[name]
    advisories.holes = {(name, version): "99.1", ("waitress", "0.0.1"): "1.0"}
    assert audit.look_up(["osv"]) == (1, [f"{name} {version}: TEST-2026-0001, mended in 99.1"])


def test_a_list_that_answers_with_its_own_trouble_is_no_pass(advisories: Advisories) -> None:
    advisories.status = 503
    assert audit.look_up(["osv"])[0] == audit.NOT_KNOWN
