"""Somebody who comes through the proxy in front, over https: signs in, sends recordings, sees what becomes of them."""

from __future__ import annotations

import http.client
import json
import re
import uuid
from collections.abc import Sequence
from contextlib import closing
from http.cookies import SimpleCookie
from pathlib import Path
from typing import Any
from urllib.parse import urlencode

from analysis.core.tables import instruments
from analysis.synthesis import ToneSpec, render, write
from tests.faults.serving import wait_until
from tests.sent import form

OVER = ("done", "refused", "failed")
TONE_S = 7.0
KIND = "alto"
MEASURED_WITHIN_S = 180.0


class Visitor:
    def __init__(self, door: tuple[str, int], site: str) -> None:
        """``site``: the address that its proxy stands for, https://…"""
        self.door, self.site = door, site
        self.cookies: dict[str, str] = {}

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> tuple[int, str]:
        host = self.site.removeprefix("https://")
        proxy = {"Host": host, "X-Forwarded-Proto": "https", "X-Forwarded-For": "198.51.100.7"}
        known = {"Cookie": "; ".join(f"{name}={value}" for name, value in self.cookies.items())}
        with closing(http.client.HTTPConnection(*self.door, timeout=60)) as line:
            line.request(method, path, body, {**proxy, **known, "Referer": f"{self.site}/", **headers})
            answer = line.getresponse()
            for cookie in answer.headers.get_all("Set-Cookie", []):
                self.cookies.update({name: one.value for name, one in SimpleCookie(cookie).items()})
            return answer.status, answer.read().decode(errors="replace")

    def get(self, path: str, **headers: str) -> str:
        status, text = self.ask("GET", path, **headers)
        assert status == 200, (path, status, text[:500])
        return text

    def _token(self) -> str:
        return next(value for name, value in self.cookies.items() if name.endswith("csrf"))

    def sign_in(self, name: str, password: str) -> None:
        self.get("/sign-in/")
        form = urlencode({"username": name, "password": password, "csrfmiddlewaretoken": self._token()})
        sort = {"Content-Type": "application/x-www-form-urlencoded"}
        status, text = self.ask("POST", "/sign-in/", form.encode(), **sort)
        assert status == 302, (status, text[:500])

    def work(self) -> dict[str, Any]:
        """What today's page of recordings knows: exercise, plan, tones."""
        (found,) = re.findall(r'<script id="work" type="application/json">(.+?)</script>', self.get("/today/files/"))
        work: dict[str, Any] = json.loads(found)
        return work

    def send(self, work: dict[str, Any], tones: Sequence[dict[str, Any]], audio: bytes) -> str:
        """The take's id."""
        slots = ",".join(str(tone["slot"]) for tone in tones)
        fields = {"exercise": work["exercise"], "plan": work["plan"], "slots": slots, "client_key": uuid.uuid4()}
        body, sort = form(fields, audio)
        status, text = self.ask("POST", "/api/takes/", body, **{"Content-Type": sort, "X-CSRFToken": self._token()})
        assert status == 201, (status, text[:500])
        return str(json.loads(text)["id"])

    def take(self, take: str) -> dict[str, Any]:
        row: dict[str, Any] = json.loads(self.get(f"/api/takes/{take}/"))
        return row

    def heard(self, take: str) -> list[str]:
        """What its tones came to, once it is measured and settled."""
        assert wait_until(lambda: self.take(take)["state"] in OVER, MEASURED_WITHIN_S), self.take(take)
        row = self.take(take)
        assert row["state"] == "done", row
        return [one["outcome"] for one in row["tries"]]


def recording(tones: Sequence[dict[str, Any]], folder: Path, times: int = 1) -> bytes:
    """These tones of today, as a phone records them; the last one as often as is said."""
    written = [instruments()[KIND].written(tone["sounding_midi"]) for tone in tones]
    specs = [ToneSpec(written_midi=note, dynamic="mf", seconds=TONE_S) for note in written]
    file = folder / "take.webm"
    write(file, render([*specs, *specs[-1:] * (times - 1)], KIND, seed=1)[0], "webm")
    return file.read_bytes()
