"""The range under a thumb: the row that follows it names the note, its tones and how the one in hand went."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import Try
from tests import people, played

NARROW = {"width": 360, "height": 740}
RIGHT_EDGE = (
    "() => Math.max(...[...document.querySelectorAll('#reading *')].map((one) => one.getBoundingClientRect().right))"
)


@pytest.fixture
def phone(device, site):
    studio = people.studio()
    horn = people.horn(studio)
    week = played.long_week(horn, people.teacher(studio).user)
    tones = [(73, "pp"), (73, "swell"), (60, "mf")]
    played.day(week, studio.today(), tones, missed={(73, "swell")})
    one = device(viewport=NARROW, has_touch=True)
    one.sign_in("pim")
    return one


def test_a_thumb_on_a_note_finds_its_eleven_tones_large_enough_to_choose_among(phone):
    page = phone.open("/range/")
    page.locator("tr", has_text="C sharp 5").locator('td[data-tone="pp"]').tap()
    reading, tones = page.locator("#reading"), page.locator(".tones-of-it > span")
    expect(reading).to_contain_text("C sharp 5")
    expect(reading).to_contain_text("on target")
    expect(tones).to_have_count(11)
    expect(tones.locator("use[href='#mark-hit']")).to_have_count(1)
    expect(tones.locator("use[href='#mark-miss']")).to_have_count(1)
    assert all(tones.nth(place).bounding_box()["width"] >= 24 for place in range(11))  # WCAG 2.2, 2.5.8
    tones.filter(has=page.locator("use[href='#mark-miss']")).tap()
    expect(reading).to_contain_text("swell: not yet")
    reading.get_by_role("link", name="Look").tap()
    page.wait_for_url(f"**/tones/{Try.objects.get(tone='swell').pk}/")


def test_the_row_stays_on_a_narrow_page_at_twice_the_type(phone):
    page = phone.open("/range/")
    page.evaluate("document.documentElement.dataset.type = '200'")
    page.locator("tr", has_text="C sharp 5").locator('td[data-tone="pp"]').tap()
    expect(page.locator("#reading")).to_be_visible()
    assert page.evaluate(RIGHT_EDGE) <= NARROW["width"]
