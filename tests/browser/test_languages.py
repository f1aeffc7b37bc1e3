"""Other languages on a phone: the notes have their names, nothing sticks out, and music runs from left to right."""

from __future__ import annotations

from contextlib import nullcontext
from itertools import pairwise

import pytest
from playwright.sync_api import Page, expect

from tests.browser import day
from tests.browser.test_accessibility import enter, shown, signed_in, world
from tests.unit import pseudo
from tests.unit.access_world import ROLES

__all__ = ["world"]  # the fixture
TONES = ((71, "mf"), (70, "p"), (66, "mf"))  # written
TOO_WIDE = """() => document.documentElement.scrollWidth <= innerWidth ? [] :
  [...document.querySelectorAll('body *')].filter((one) => {
    const box = one.getBoundingClientRect();
    return box.width && (box.right > innerWidth + 1 || box.left < -1) && !one.closest('.unseen, .skip, svg');
  }).slice(0, 4).map((one) => `${one.tagName}.${one.className} ${one.textContent.trim().slice(0, 40)}`)"""
TOO_NEAR = """() => [...document.querySelectorAll('.act, .press')].flatMap((one) => {
  const box = one.getBoundingClientRect(), words = document.createTreeWalker(one, NodeFilter.SHOW_TEXT), found = [];
  while (words.nextNode()) {
    const range = document.createRange();
    range.selectNodeContents(words.currentNode);
    if (words.currentNode.parentElement.closest('.unseen')) continue;
    for (const line of range.getClientRects())
      if (line.width > 1 && (line.left < box.left + 8 || line.right > box.right - 8))
        found.push(`${one.textContent.trim().slice(0, 40)}: ${box.right - line.right} px from its edge`);
  }
  return found;
})"""
HEADS = """() => [...document.querySelectorAll('.range thead .word')].map((one) => {
  const range = document.createRange();
  range.selectNodeContents(one);
  const { left, right } = range.getBoundingClientRect();
  return [parseFloat(getComputedStyle(one).fontSize), left, right];
})"""
MUSIC = ".ltr, svg:has(text)"
TURNED = f"""() => [...document.querySelectorAll('{MUSIC}')].filter(
  (one) => getComputedStyle(one).direction !== 'ltr').map((one) => one.outerHTML.slice(0, 80))"""


@pytest.mark.parametrize(
    ("locale", "headline", "names"),
    [
        ("de-DE", "Töne", ["H", "B", "Fis"]),
        ("fr-FR", "son", ["si", "si♭", "fa♯"]),
        ("en-GB", "tone", ["B", "B♭", "F♯"]),
    ],
)
def test_a_student_reads_notes_by_the_names_of_the_language(device, site, locale, headline, names):
    day.student(TONES)
    phone = device(locale=locale)
    page = phone.sign_in("pim")
    expect(page.locator("html")).to_have_attribute("lang", locale[:2])
    expect(page.locator(".plan .note")).to_have_text(names)
    expect(page.locator("main h1")).to_contain_text(headline)
    phone.open("/today/play/")
    expect(page.locator(".tone .note-on-stand .note").first).to_have_text(names[0])


def test_note_names_are_chosen_apart_from_the_language(device, site):
    day.student(TONES)
    phone = device(locale="de-DE")
    phone.sign_in("pim")
    page = phone.open("/mine/")
    choice = page.get_by_label("do ré mi")
    choice.evaluate("(one) => one.scrollIntoView({ block: 'center' })")  # away from the band at the foot
    choice.check()
    with page.expect_navigation():
        page.click("button.act")  # one Save for everything on the page
    phone.open("/today/")
    expect(page.locator("html")).to_have_attribute("lang", "de")
    expect(page.locator(".plan .note")).to_have_text(["si", "si♭", "fa♯"])


def test_a_language_is_chosen_before_signing_in(device, site):
    page = device(locale="en-GB").open("/sign-in/")
    page.get_by_role("button", name="français").click()
    expect(page.locator("html")).to_have_attribute("lang", "fr")


@pytest.mark.parametrize("locale", ["en", "de", "fr"])
def test_the_words_over_the_range_are_no_smaller_than_eleven_and_stand_apart(device, site, locale):
    day.student(TONES)
    phone = device(locale=locale, viewport={"width": 360, "height": 740})
    phone.sign_in("pim")
    words = phone.open("/range/").evaluate(HEADS)
    assert len(words) == 3
    assert min(size for size, _left, _right in words) >= 11
    gaps = [after[1] - before[2] for before, after in pairwise(words)]
    assert min(gaps) >= 1.5


@pytest.mark.parametrize("language", ["de", "fr", "longer, from the right"])
def test_nothing_sticks_out_of_a_phone_in_any_language(device, world, language):
    invented = language not in ("de", "fr")
    addresses = shown(world)
    locale = "en" if invented else language
    phone, found = device(service_workers="block", locale=locale, viewport={"width": 360, "height": 740}), {}
    with pseudo.spoken(pseudo.longer, from_the_right=True) if invented else nullcontext():
        for role in ROLES:
            enter(phone, signed_in(world, role))
            for name, (address, whose) in addresses.items():
                if whose == role:
                    found[name] = _trouble(phone.open(address), "rtl" if invented else "ltr")
    assert {name: told for name, told in found.items() if told} == {}
    assert len(found) > 40


def _trouble(page: Page, direction: str) -> list[str]:
    expect(page.locator("html")).to_have_attribute("dir", direction)
    return [*page.evaluate(TOO_WIDE), *page.evaluate(TOO_NEAR), *page.evaluate(TURNED)]
