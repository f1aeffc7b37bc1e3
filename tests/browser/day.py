"""A student's day of twenty tones at a tempo that no lip could follow, so that a test lasts a minute."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from playwright.sync_api import Page

from assignments.models import DayPlan, Take
from studio.models import Horn
from tests import builders, people
from tests.browser import sounds
from tests.browser.conftest import Device

QUICK = 180  # beats a minute
PATIENCE_S = 180.0  # with a machine on which others compute and takes of earlier tests are measured first
MIDI = (67, 60, 72, 64, 70, 62, 74, 65, 69, 59)
TONES = tuple((midi, level) for level in ("mf", "f") for midi in MIDI)
WAITING = "import('/static/assignments/store.js').then((store) => store.waiting(document.body.dataset.profile))"
IN_A_TONE = """({ place, from, to }) => {
  const beats = [...document.querySelectorAll('.tone')[place].querySelectorAll('.beats li')];
  if (!beats.slice(from, to).some((one) => one.matches('.now'))) return false;
  DEED;
  return true;
}"""
PAUSE = "document.querySelector('[data-do=pause]').click()"
RELOAD = "setTimeout(() => location.reload(), 50)"  # once it has been answered
KEEP_STREAMS = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wanted) => (window.heard = await ask(wanted));
"""


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


def phone_that_plays(device: Callable[..., Device], folder: Path) -> Device:
    """Pim's phone, whose microphone hears the day's tones; pages find its stream as ``heard``."""
    one = device(microphone=sound(folder / "horn.wav"))
    one.context.add_init_script(KEEP_STREAMS)
    one.sign_in("pim")
    return one


def play(page: Page, site: str) -> None:
    page.goto(site + "/today/play/")
    page.click("[data-do=start]")


def wait_until_kept(page: Page, path: str) -> None:
    """Until the phone could show this page without network."""
    kept = "async (path) => Boolean(await (await caches.open('pages')).match(path))"
    wait(page, lambda: bool(page.evaluate(kept, path)))


def wait(page: Page, holds, within_s: float = PATIENCE_S) -> None:  # type: ignore[no-untyped-def]  # a question without arguments
    """Until something holds; the page goes on meanwhile."""
    until = time.monotonic() + within_s
    while not holds():
        assert time.monotonic() < until
        page.wait_for_timeout(100)


def waiting(page: Page) -> list[dict[str, Any]]:
    """What was played or chosen and is on this phone still."""
    rows: list[dict[str, Any]] = page.evaluate(WAITING)
    return rows


def in_a_tone(page: Page, place: int, deed: str) -> None:
    """Does something from its fourth beat on, in the page itself: asked from outside it would come too late."""
    script = IN_A_TONE.replace("DEED", deed)
    page.wait_for_function(script, arg={"place": place, "from": 3, "to": 7}, polling=20, timeout=60_000)


def ends(device: Device, places: list[int]) -> None:
    """Enough for now, in the tone after these; then these are in the studio, once each."""
    in_a_tone(device.page, len(places), PAUSE)
    device.page.click("[data-do=finish]")
    wait(device.page, lambda: Take.objects.count() >= len(places))
    assert sorted(received()) == places


def phase(device: Device) -> str:
    return str(device.page.locator("body").get_attribute("data-phase"))


def received() -> list[int]:
    """The places of the day's plan, in the order in which they arrived."""
    return [slot["slot"] for take in Take.objects.order_by("received_at") for slot in take.asked]
