"""Today and Play for those who use keys instead of fingers, and type of twice the size."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from tests.browser import day, sounds

NARROW = {"width": 360, "height": 740}
OVERFLOWING = """() => [...document.querySelectorAll('main *, .band *, .top *')]
  .filter((one) => one.getClientRects().length && !one.closest('.unseen'))
  .filter((one) => getComputedStyle(one).position !== 'absolute')
  .filter((one) => one.getBoundingClientRect().right > document.documentElement.clientWidth + 1)
  .map((one) => `${one.tagName} ${one.className.baseVal ?? one.className} ${one.textContent.trim().slice(0, 30)}`)"""
FOCUSED = "() => document.activeElement.textContent.trim().replace(/\\s+/g, ' ')"


@pytest.fixture
def phone(device, site, tmp_path):
    day.student()
    one = device(microphone=day.sound(tmp_path / "horn.wav"), viewport=NARROW)
    one.sign_in("pim")
    return one


def tab_to(page: Page, words: str) -> None:
    """Press Tab until the focus stands on what begins with ``words``."""
    for _ in range(60):
        page.keyboard.press("Tab")
        if str(page.evaluate(FOCUSED)).startswith(words):
            return
    raise AssertionError(f"Tab never reaches “{words}”")


def test_a_day_is_begun_paused_and_ended_by_keyboard_alone(phone):
    page = phone.open("/today/")
    tab_to(page, "Set up and start")
    page.keyboard.press("Enter")
    page.wait_for_url("**/today/set-up/")
    tab_to(page, "Play without the check")
    page.keyboard.press("Enter")
    expect(page.locator("[data-do=start]")).to_be_focused()  # the keyboard is handed on to what comes next
    page.keyboard.press("Enter")
    expect(page.locator(".tone").nth(1)).to_be_visible(timeout=30_000)
    page.locator("body").evaluate("document.activeElement.blur()")
    page.keyboard.press("Space")
    expect(page.locator("h1:visible")).to_have_text(["Pause"])
    page.keyboard.press("Space")
    expect(page.locator(".tone").nth(2)).to_be_visible(timeout=30_000)
    page.keyboard.press("Space")
    tab_to(page, "Enough for now")
    page.keyboard.press("Enter")
    page.wait_for_url("**/after/", timeout=30_000)


PATHS = ("/today/", "/today/set-up/", "/today/play/", "/today/files/", "/range/", "/after/", "/hurts/", "/mine/")


def test_at_twice_the_type_nothing_leaves_a_narrow_page(phone, tmp_path):
    phone.open("/mine/")
    phone.page.get_by_label("very large").check()
    with phone.page.expect_navigation():
        phone.page.locator("button[form=mine]").click()
    found = {}
    for path in PATHS:
        page = phone.open(path)
        assert page.evaluate("document.documentElement.dataset.type") == "200"
        if path == "/today/play/":
            page.click("[data-do=start]")
            expect(page.locator(".tone").first).to_be_visible()
        if path == "/today/files/":
            page.set_input_files("[name=chosen]", tmp_path / "horn.wav")
            expect(page.locator("#files select")).to_be_visible()
        page.wait_for_timeout(500)
        found[path] = page.evaluate(OVERFLOWING), page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert found == dict.fromkeys(PATHS, ([], True))


def test_the_space_key_pauses_while_the_page_waits_for_the_player(device, site, tmp_path):
    day.student()
    silence = sounds.played(day.TONES[:1], tmp_path / "silence.wav", silent=(0,), beats_per_minute=day.QUICK)
    phone = device(microphone=silence)
    phone.sign_in("pim")
    day.play(phone.page, phone.site)
    expect(phone.page.locator("[data-when=waiting]").first).to_be_visible(timeout=40_000)
    phone.page.locator("body").evaluate("document.activeElement.blur()")
    phone.page.keyboard.press("Space")
    expect(phone.page.locator("h1:visible")).to_have_text(["Pause"])


def test_sixteen_beats_fit_a_narrow_page_at_twice_the_type(device, site, tmp_path):
    week = day.student().weeks.get()
    work = week.exercises.create(position=9, kind="long_swells", stage=0)
    one = device(microphone=day.sound(tmp_path / "horn.wav"), viewport=NARROW)
    page = one.sign_in("pim")
    one.open(f"/exercises/{work.pk}/?play=1")
    page.click("[data-do=anyway]")
    page.click("[data-do=start]")
    expect(page.locator(".to-play:visible .beats li.now")).to_have_count(1)
    for size in ("", "200"):
        page.evaluate("size => (document.documentElement.dataset.type = size)", size)
        expect(page.locator(".to-play:visible .board")).to_have_count(1)
        assert page.evaluate(OVERFLOWING) == []


PLAYED = """async () => {
  const { Board } = await import('/static/assignments/board.js');
  document.querySelector('main').innerHTML = '<div id="panel"><svg><g class="heard"></g></svg></div>';
  const board = new Board(document.getElementById('panel'), null), seen = [];
  for (const beat of [0.1, 0.5, 0.9, 1.1]) {
    board.at(beat, 8);
    if (beat < 1) board.hear(beat, -20);
    seen.push(document.querySelectorAll('.stroke').length);
  }
  return seen;
}"""


@pytest.mark.parametrize(("motion", "seen"), [("no-preference", [1, 2, 3, 3]), ("reduce", [0, 0, 0, 3])])
def test_strokes_flow_and_appear_beat_by_beat_where_nothing_is_to_move(device, site, motion, seen):
    page = device(reduced_motion=motion).open("/sign-in/")
    assert page.evaluate(PLAYED) == seen
