"""A student's day of twenty tones at a tempo that no lip could follow, so that a test lasts a minute."""

from __future__ import annotations

import time
from pathlib import Path

from playwright.sync_api import Page

from assignments.models import DayPlan, Take
from studio.models import Horn
from tests import builders, people
from tests.browser import sounds
from tests.browser.conftest import Device

QUICK = 180  # beats a minute
MIDI = (67, 60, 72, 64, 70, 62, 74, 65, 69, 59)
TONES = tuple((midi, level) for level in ("mf", "f") for midi in MIDI)


def student(tones: tuple[tuple[int, str], ...] = TONES) -> Horn:
    """Pim, with these tones to play today, quickly."""
    studio = people.studio()
    horn = people.horn(studio)
    week = builders.week(horn, people.teacher(studio).user, beats_per_minute=QUICK)
    asked = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": "oldest"} for midi, tone in tones]
    DayPlan.objects.create(horn=horn, week=week, on=studio.today(), tones=asked)
    return horn


def sound(file: Path) -> Path:
    return sounds.played(TONES, file, beats_per_minute=QUICK)


def play(page: Page, site: str) -> None:
    page.goto(site + "/today/play/")
    page.click("[data-do=start]")


def wait_until_kept(page: Page, path: str) -> None:
    """Until the phone could show this page without network."""
    kept = "async (path) => Boolean(await (await caches.open('pages')).match(path))"
    wait(page, lambda: bool(page.evaluate(kept, path)), 20)


def wait(page: Page, holds, within_s: float) -> None:  # type: ignore[no-untyped-def]  # a question without arguments
    """Until something holds; the page goes on meanwhile."""
    until = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < until
        page.wait_for_timeout(100)


def phase(device: Device) -> str:
    return str(device.page.locator("body").get_attribute("data-phase"))


def received() -> list[int]:
    """The places of the day's plan, in the order in which they arrived."""
    return [slot["slot"] for take in Take.objects.order_by("received_at") for slot in take.asked]
