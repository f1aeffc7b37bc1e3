"""Twenty tones from the first to the last, on phones and lines that fail in between: each take arrives, and once."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from tests.browser import day


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone(device, horn, tmp_path):
    one = device(microphone=day.sound(tmp_path / "horn.wav"))
    one.sign_in("pim")
    return one


def tone(phone, place: int):
    return phone.page.locator(".tone").nth(place)


def test_twenty_tones_without_network_in_the_middle_arrive_once_each_and_in_order(phone, horn):
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/play/")
    day.play(phone.page, phone.site)
    expect(tone(phone, 6)).to_be_visible(timeout=60_000)
    phone.context.set_offline(True)
    day.in_a_tone(phone.page, 9, day.RELOAD)  # which is asked again
    expect(phone.page.locator("[data-do=start]")).to_be_visible()
    phone.page.click("[data-do=start]")
    expect(tone(phone, 9)).to_be_visible()
    expect(tone(phone, 13)).to_be_visible(timeout=60_000)
    phone.context.set_offline(False)
    expect(phone.page.get_by_role("heading", name="That’s today’s twenty")).to_be_visible(timeout=90_000)
    assert sorted(day.received()) == list(range(20))
    assert day.received()[6:] == list(range(6, 20))  # what waited goes up in order, before what was played later
    phone.open("/today/")
    expect(phone.page.locator("h1")).to_have_text("All twenty are played")
    expect(phone.page.locator("#waits")).not_to_contain_text("Waiting")


def test_two_windows_of_one_phone_send_everything_once(phone, horn):
    phone.open("/today/")
    second = phone.context.new_page()
    day.play(phone.page, phone.site)
    expect(tone(phone, 0)).to_be_visible()
    second.goto(phone.site + "/today/play/")
    expect(second.locator("h1:visible")).to_have_text(["You are playing in another window"], timeout=10_000)
    second.goto(phone.site + "/today/")
    day.ends(phone, [0, 1, 2, 3])
    phone.page.close()
    second.goto(phone.site + "/today/play/")
    second.click("[data-do=start]")
    expect(second.locator(".tone").nth(4)).to_be_visible(timeout=10_000)
