"""A minute's rest for lip and ears, and a phone that sends over Wi-Fi alone: both keep what was played."""

from __future__ import annotations

import re

import pytest
from playwright.sync_api import Route, expect

from assignments.models import Take
from tests.browser import day, sounds

TONES = day.TONES[:3]
ON_A_PHONES_LINE = """Object.defineProperty(navigator, 'connection', {
  value: Object.assign(new EventTarget(), { type: 'cellular' }), configurable: true })"""


@pytest.fixture
def phone(device, site, tmp_path):
    day.student(TONES)
    one = device(
        microphone=sounds.played(TONES, tmp_path / "horn.wav", beats_per_minute=day.QUICK), service_workers="block"
    )
    one.sign_in("pim")
    return one


def test_playing_rests_for_a_minute_after_so_many_tones_and_goes_on_when_asked(phone):
    """After two here, so that it takes no twenty."""

    def sooner(route: Route) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, body=answer.text().replace('"rest_after": 20', '"rest_after": 2'))

    phone.page.clock.install()
    phone.page.route(re.compile("/today/play/"), sooner, times=1)  # not whether permission still stands, asked later
    day.play(phone.page, phone.site)
    expect(phone.page.locator("h1:visible")).to_have_text(["A minute’s rest"], timeout=30_000)
    expect(phone.page.locator("#rest-left")).to_have_text(re.compile("^[1-9]"))
    expect(phone.page.get_by_role("button", name="Stop, it hurts")).to_be_visible()
    phone.page.clock.run_for(50_000)
    expect(phone.page.locator("h1:visible")).to_have_text(["A minute’s rest"])
    expect(phone.page.locator("[data-do=resume]")).to_be_hidden()  # not sooner
    phone.page.clock.run_for(10_000)
    expect(phone.page.locator("h1:visible")).to_have_text(["Rested"])
    phone.page.click("[data-do=resume]")
    expect(phone.page.locator(".tone").nth(2)).to_be_visible()


def test_with_wifi_alone_takes_wait_on_a_phones_line_and_go_when_told_or_back_on_wifi(phone):
    phone.open("/mine/").get_by_label("Send over Wi-Fi alone").check()
    phone.context.add_init_script(ON_A_PHONES_LINE)
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 2, day.PAUSE)
    phone.page.click("[data-do=finish]")
    phone.open("/today/")
    expect(phone.page.locator("#waits")).to_have_text(re.compile(r"^2 wait for Wi-Fi \(\d\.\d MB\)$"))
    assert not Take.objects.exists()
    phone.open("/mine/").get_by_role("button", name="Send now, over any network").click()
    day.wait(phone.page, lambda: Take.objects.count() == 2)
