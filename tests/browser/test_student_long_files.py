"""Recordings of a hundred megabytes on a phone with little memory, and those that the studio takes tomorrow only."""

from __future__ import annotations

import hashlib
import json
import threading

import numpy as np
import pytest
from playwright.sync_api import expect

from assignments import takes
from assignments.models import Take
from tests.browser import day
from tests.browser.test_student_files import TONES, choose, horn, memo, phone, told

__all__ = ["horn", "phone"]  # the fixtures

MEGABYTE = 1024 * 1024
LONG_BYTES = 60 * MEGABYTE + 17
MOST_HELD_BYTES = 8 * MEGABYTE  # by a page that keeps or sends it; the file itself is many times as large
HOLD = "(bytes) => { window.held = new Uint8Array(bytes).fill(1); }"
HASH = """async ([lengths, cut]) => {
  const { sha256 } = await import('/static/assignments/sha256.js');
  const sums = [];
  for (const length of lengths) {
    const bytes = Uint8Array.from({ length }, (_, place) => (place * 7 + length) % 256);
    const pieces = [];
    for (let at = 0; at < length; at += cut) pieces.push(bytes.slice(at, at + cut).buffer);
    sums.push(await sha256(pieces));
  }
  return sums;
}"""


class Memory:
    """How much sound a page holds: its buffers, without those that nothing refers to any more."""

    def __init__(self, phone) -> None:  # type: ignore[no-untyped-def]  # a Device
        self.line = phone.context.new_cdp_session(phone.page)
        self.most = 0

    def bytes(self) -> int:
        """The least of three looks: between a collection and the count a page that reads on lets go of more."""
        held = min(self._after_a_collection() for _ in range(3))
        self.most = max(self.most, held)
        return held

    def _after_a_collection(self) -> int:
        self.line.send("HeapProfiler.collectGarbage")
        return int(self.line.send("Runtime.getHeapUsage")["backingStorageSize"])


@pytest.fixture
def long_file(tmp_path):
    file = tmp_path / "an hour.m4a"
    file.write_bytes(np.random.default_rng(8).bytes(LONG_BYTES))
    return file


def test_a_long_file_is_kept_and_sent_without_ever_being_in_memory(phone, long_file):
    page = phone.open("/today/files/")
    memory = Memory(phone)
    before = memory.bytes()
    page.evaluate(HOLD, LONG_BYTES)
    assert memory.bytes() - before >= LONG_BYTES  # what is looked for would be seen
    page.evaluate("window.held = null")
    memory.most = 0
    choose(page, long_file)
    day.wait(page, lambda: memory.bytes() and told(page, "This phone can’t listen to it").count() == 1, 60)
    page.locator("#files select").select_option(label="C4 f")
    page.click("text=Send it")
    day.wait(page, lambda: memory.bytes() and Take.objects.exists(), 180)
    day.wait(page, lambda: memory.bytes() and "/takes/" in page.url, 60)
    print(json.dumps({"file_bytes": LONG_BYTES, "most_held_bytes": memory.most}))
    assert memory.most < MOST_HELD_BYTES
    kept = Take.objects.get().analysis
    assert kept.sha256 == hashlib.sha256(long_file.read_bytes()).hexdigest()
    assert kept.audio_bytes == LONG_BYTES


def test_a_long_file_goes_on_where_its_line_broke_even_if_more_is_there_than_was_said(phone, long_file):
    sent = threading.Semaphore(20)  # parts that the line carries before it breaks
    page = phone.open("/today/files/")
    phone.expected += ["net::ERR_FAILED", "status of 409"]
    choose(page, long_file)
    expect(told(page, "This phone can’t listen to it")).to_have_count(1, timeout=60_000)
    page.locator("#files select").select_option(label="C4 f")
    carries = "**/api/uploads/*/"
    phone.context.route(carries, lambda route: route.continue_() if sent.acquire(blocking=False) else route.abort())
    page.click("text=Send it")
    expect(told(page, "It waits on this phone")).to_have_count(1, timeout=120_000)
    day.wait(page, lambda: not sent.acquire(blocking=False), 120)
    phone.context.unroute(carries)
    nothing = {"stored": False, "take": None, "offset": 0}
    phone.context.route(
        carries, lambda route: route.fulfill(json=nothing) if route.request.method == "GET" else route.continue_()
    )
    phone.open("/today/")
    day.wait(page, Take.objects.exists, 180)
    assert Take.objects.get().analysis.sha256 == hashlib.sha256(long_file.read_bytes()).hexdigest()
    expect(page.locator("#waits")).not_to_contain_text("Waiting", timeout=60_000)


def test_the_phones_own_sums_are_those_of_the_standard(phone):
    phone.open("/today/files/")
    lengths = [*range(0, 8), *range(50, 70), *range(115, 135), 1000, 100_003]
    sums = [hashlib.sha256(bytes((place * 7 + n) % 256 for place in range(n))).hexdigest() for n in lengths]
    for cut in (1, 63, 64, 65, 4096):
        assert phone.page.evaluate(HASH, [lengths, cut]) == sums


def test_a_full_day_is_told_in_the_studios_words_and_the_rest_goes_up_by_itself(phone, tmp_path, monkeypatch):
    phone.expected.append("status of 429")
    monkeypatch.setattr(takes, "MOST_A_DAY", 0)
    page = phone.open("/today/files/")
    choose(page, memo(tmp_path, "memo.wav", TONES[1]))
    expect(told(page, "I think this is in it")).to_have_count(1, timeout=20_000)
    page.click("text=Send it")
    waits = page.locator("#waits")
    for path in ("/today/files/", "/today/", "/mine/"):  # wherever one looks, after a reload too
        if not page.url.endswith(path):
            phone.open(path)
        expect(waits).to_contain_text("Waiting on this phone: 1", timeout=20_000)
        expect(waits).to_contain_text("No more recordings fit into today. Nothing is lost", timeout=20_000)
        expect(waits).to_contain_text("It goes up by itself when Footing is open then.")
    assert not Take.objects.exists()
    monkeypatch.setattr(takes, "MOST_A_DAY", 200)  # tomorrow
    phone.open("/today/")
    day.wait(page, Take.objects.exists, 30)
    expect(waits).not_to_contain_text("Waiting", timeout=20_000)
