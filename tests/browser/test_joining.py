"""From a slip of paper to pages of one's own: a student, then the family; and no other server is asked for anything."""

from __future__ import annotations

import re
import time

import pytest
from playwright.sync_api import Page, expect

from studio.models import Consent, Membership
from tests import people

TWO_MINUTES_S = 120


@pytest.fixture
def desk(device):
    """A teacher's laptop."""
    people.teacher(people.studio())
    laptop = device(viewport={"width": 1280, "height": 900})
    laptop.sign_in("marisa")
    return laptop


def printed(page: Page) -> str:
    """The code on the slip, once it is shown."""
    expect(page.locator("svg.qr")).to_be_visible()
    code = re.search(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", page.content())
    assert code is not None
    return code[1]


def foreign(phone) -> list[str]:
    """Addresses of other servers that a page asked, from now on."""
    asked: list[str] = []

    def note(request) -> None:
        if not request.url.startswith((phone.site, "data:", "blob:")):
            asked.append(request.url)

    phone.page.on("request", note)
    return asked


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def test_a_scanned_code_brings_a_student_in_and_the_familys_opens_the_microphone(device, desk):
    desk.open("/studio/people/invite/")
    desk.page.click("text=Make the code")
    code = printed(desk.page)
    desk.page.evaluate("window.print = () => { document.title = 'to the printer'; }")
    desk.page.get_by_role("button", name="Print").click()
    expect(desk.page).to_have_title("to the printer")

    phone = device()
    asked = foreign(phone)
    began = time.monotonic()
    page = phone.open(f"/join/#{code}")  # what the drawn code holds
    expect(page.locator("[name=code]")).to_have_value(code)
    assert "#" not in page.url  # nor is it left in the history
    page.click("text=Open")
    page.fill("[name=name]", "Nell Harbour")
    assert fits(page)
    page.click("text=Come in")
    expect(page.locator("h1")).to_have_text("Nothing is set yet")
    assert time.monotonic() - began < TWO_MINUTES_S

    player = Membership.objects.get(user__name="Nell Harbour")
    desk.open(f"/studio/people/{player.pk}/")
    desk.page.click("text=Print a code for the family")
    home = device()
    asked_at_home = foreign(home)
    page = home.open("/join/")
    page.fill("[name=code]", printed(desk.page).lower())
    page.click("text=Open")
    page.fill("[name=name]", "Una Harbour")
    page.click("text=Come in")
    expect(page.locator("h1")).to_have_text("May Nell be recorded?")
    assert fits(page)
    page.click("text=Yes, tones may be recorded")
    expect(page.locator("[name=agree]:invalid")).to_have_count(1)
    page.check("[name=agree]")
    page.click("text=Yes, tones may be recorded")
    expect(page.locator("h1")).to_have_text("Nell may be recorded")
    assert Consent.objects.get().given_by == "Una Harbour"
    for word in ("Month", "Messages", "Kept"):
        page.click(f"nav.words >> text={word}")
        expect(page.locator("nav.words [aria-current]")).to_have_text(word)  # it has come
        assert fits(page)
    page.click("nav.words >> text=Permission")
    page.click("text=Take it back, delete the recordings")
    expect(page.locator("h1")).to_have_text("May Nell be recorded?")
    assert asked == asked_at_home == []


def test_a_family_shares_a_tablet_and_the_next_child_finds_nothing_of_the_last(device):
    studio = people.studio()
    home = people.person("Edda Fenn", studio, Membership.Role.GUARDIAN)
    home.wards.set([people.horn(studio).player, people.horn(studio, "Ottilie Fenn").player])
    tablet = device(viewport={"width": 768, "height": 1024})
    tablet.expected.append("status of 404")
    page = tablet.sign_in("edda")
    tablet.open("/devices/")
    for name, digits in (("Ottilie Fenn", "118834"), ("Pim Larkspur", "270951")):
        page.get_by_role("link", name=re.compile(f"Set a PIN.*{name}")).click()
        page.fill("[name=digits]", digits)
        page.click("text=Set it")
    page.fill("[name=name]", "kitchen tablet")
    for box in page.locator("[name=players]").all():
        box.check()
    page.click("text=Share this device")
    page.click("text=Pim Larkspur")
    page.fill("[name=digits]", "270951")
    page.click("text=Open my pages")
    expect(page.locator("header.top")).to_contain_text("Pim")
    page.wait_for_function("navigator.serviceWorker.controller !== null || navigator.serviceWorker.ready")
    page.get_by_role("button", name="Somebody else’s turn").click()
    expect(page.locator("h1")).to_have_text("Whose turn?")
    assert page.evaluate("caches.open('pages').then((cache) => cache.keys()).then((keys) => keys.length)") == 0
    page.click("text=Ottilie Fenn")
    page.fill("[name=digits]", "118834")
    page.click("text=Open my pages")
    expect(page.locator("header.top")).to_contain_text("Ottilie")
    assert "Pim" not in page.content()
