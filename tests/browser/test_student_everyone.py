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


@pytest.mark.parametrize(
    "path",
    ["/today/", "/today/set-up/", "/today/play/", "/today/files/", "/range/", "/after/", "/hurts/", "/mine/"],
)
def test_at_twice_the_type_nothing_leaves_a_narrow_page(phone, path, tmp_path):
    phone.open("/mine/")
    phone.page.get_by_label("very large").check()
    with phone.page.expect_navigation():
        phone.page.locator("button[form=mine]").click()
    page = phone.open(path)
    assert page.evaluate("document.documentElement.dataset.type") == "200"
    if path == "/today/play/":
        page.click("[data-do=start]")
        expect(page.locator(".tone").first).to_be_visible()
    if path == "/today/files/":
        page.set_input_files("[name=chosen]", tmp_path / "horn.wav")
        expect(page.locator("#files select")).to_be_visible(timeout=20_000)
    page.wait_for_timeout(500)
    assert page.evaluate(OVERFLOWING) == []
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")


def test_the_space_key_pauses_while_the_page_waits_for_the_player(device, site, tmp_path):
    day.student()
    silence = sounds.played(day.TONES[:1], tmp_path / "silence.wav", silent=(0,), beats_per_minute=day.QUICK)
    phone = device(microphone=silence)
    phone.sign_in("pim")
    day.play(phone.page, phone.site)
    expect(phone.page.locator("[data-when=waiting]").first).to_be_visible(timeout=15_000)
    phone.page.locator("body").evaluate("document.activeElement.blur()")
    phone.page.keyboard.press("Space")
    expect(phone.page.locator("h1:visible")).to_have_text(["Pause"])
