"""A page that stands open while its device is handed on: what waits in it stays its player's."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import DayPlan, Take
from tests import people
from tests.browser import day
from tests.browser.conftest import Device


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone(device, horn, tmp_path):
    one = device(microphone=day.sound(tmp_path / "horn.wav"), service_workers="block")
    one.expected += ["net::ERR_FAILED", "403"]
    one.sign_in("pim")
    return one


def in_another_window(phone, username: str) -> Device:
    phone.context.clear_cookies()
    other = Device(phone.context, phone.context.new_page(), phone.site)
    other.sign_in(username)
    return other


def test_what_waits_is_not_sent_for_somebody_else_and_goes_up_for_its_player(phone, horn):
    people.horn(horn.studio, "Ottilie Fenn")
    phone.context.route("**/api/takes/", lambda route: route.abort())
    phone.context.route("**/hurts/", lambda route: route.abort())
    day.play(phone.page, phone.site)
    day.wait(phone.page, lambda: day.waiting(phone.page))
    phone.page.click("[data-hurts] button")
    expect(phone.page.locator("h1:visible")).to_have_text(["Stopping was right"])
    several = len(day.waiting(phone.page))  # a slow machine may have played one more
    in_another_window(phone, "ottilie").page.close()
    phone.context.unroute_all()
    with phone.page.expect_response(lambda answer: answer.status == 403):
        phone.page.evaluate("dispatchEvent(new Event('online'))")
    expect(phone.page.locator("#waits")).to_contain_text(f"Sign in again to send {several}.")
    assert not Take.objects.exists()
    assert not DayPlan.objects.filter(stopped_hurting_at__isnull=False).exists()
    pim = in_another_window(phone, "pim").page
    day.wait(pim, lambda: Take.objects.count() == several)
    assert DayPlan.objects.get(horn=horn).stopped_hurting_at is not None
