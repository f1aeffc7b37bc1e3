"""A teacher, a phone and a sheet of paper: the second step set up, used, lost and made good, in a real browser."""

from __future__ import annotations

import base64
import re
import time
from urllib.parse import parse_qs, urlsplit

from playwright.sync_api import Page, expect

from studio import one_time_codes
from studio.models import SecondStep
from tests import people


class Authenticator:
    """What an app on the phone does with the address that it scanned."""

    def __init__(self, page: Page) -> None:
        address = page.locator("a[href^='otpauth:']").get_attribute("href") or ""
        asked = parse_qs(urlsplit(address).query)
        self.secret = base64.b32decode(asked["secret"][0])
        assert set(asked) == {"secret", "issuer"}  # digits, seconds and hash are the ones that every app assumes

    def digits(self, not_before: int = 0) -> str:
        """Those of now, or of the step that is to come."""
        return one_time_codes.at(self.secret, max(not_before, int(time.time() // one_time_codes.STEP_S)))


def fits(page: Page) -> bool:
    return bool(page.evaluate("document.documentElement.scrollWidth <= innerWidth"))


def give_passphrase(device) -> Page:  # type: ignore[no-untyped-def]  # the conftest's Device
    page: Page = device.open("/sign-in/")
    page.fill("[name=username]", "marisa")
    page.fill("[name=password]", people.PASSWORD)
    page.click("button.act")
    expect(page.locator("h1")).to_have_text("Now the six digits from your phone")
    return page


def test_a_teachers_second_step_from_the_first_scan_to_a_lost_phone(device, site):
    people.teacher(people.studio())
    desk = device()
    page = desk.sign_in("marisa")
    desk.open("/doors/")
    page.get_by_role("link", name="Set it up").click()
    expect(page.locator("svg.qr")).to_be_visible()
    assert fits(page)
    phone = Authenticator(page)
    page.fill("[name=code]", phone.digits())
    page.fill("[name=old]", people.PASSWORD)
    page.click("text=Turn it on")
    expect(page.locator("h1")).to_have_text("Print these, or write them down")
    assert fits(page)
    paper = re.findall(r"<b>([0-9A-Z]{5}-[0-9A-Z]{5})</b>", page.content())
    assert len(paper) == 10
    used = SecondStep.objects.get().last_step

    other = device()
    other.expected.append("status of 400")
    page = give_passphrase(other)
    assert fits(page)
    page.fill("[name=code]", one_time_codes.at(phone.secret, used))
    page.click("button.act")
    expect(page.locator(".field-error")).to_contain_text("once")
    page.fill("[name=code]", phone.digits(not_before=used + 1))
    page.click("button.act")
    page.wait_for_url("**/studio/")

    lost = device()
    page = give_passphrase(lost)
    page.fill("[name=code]", paper[0])
    page.click("button.act")
    expect(page.get_by_text("9 recovery codes are left")).to_be_visible()
    expect(page.get_by_role("link", name="It isn’t lost: go on")).to_be_visible()
    assert fits(page)
    page.click("text=Set it up on another phone")
    expect(page.locator("svg.qr")).to_be_visible()
    page.fill("[name=code]", Authenticator(page).digits())
    page.fill("[name=old]", people.PASSWORD)
    page.click("text=Turn it on")
    expect(page.locator("h1")).to_have_text("Print these, or write them down")
    page.get_by_role("link", name="Printed or copied").click()
    page.wait_for_url("**/studio/")
