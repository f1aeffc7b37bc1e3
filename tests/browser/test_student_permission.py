"""Permission taken back while somebody plays: the phone stops at once and records on no kept copy.

What was being played is thrown away, what was finished waits on the phone; no other refusal throws anything away.
"""

from __future__ import annotations

import pytest
from django.db import connection
from playwright.sync_api import expect

from assignments import permission
from assignments.models import Take
from studio import consent
from tests import people
from tests.browser import day


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone(device, horn, tmp_path):
    one = day.phone_that_plays(device, tmp_path)
    one.expected.append("403")
    return one


@pytest.fixture
def phone_without_copies(device, horn, tmp_path):
    """Its answers can be put in the studio's place."""
    one = device(microphone=day.sound(tmp_path / "horn.wav"), service_workers="block")
    one.expected += ["403", "net::ERR_FAILED"]
    one.sign_in("pim")
    return one


def take_back(horn) -> None:
    permission.take_back(student=horn.player, by=people.person("Edda Fenn", horn.studio, "guardian").user)


def stored() -> list[str]:
    with connection.cursor() as cursor:
        cursor.execute("SELECT audio FROM analysis_analysis WHERE audio <> ''")
        return [name for (name,) in cursor.fetchall()]


def test_the_recorder_that_stands_open_stops_and_says_why(phone, horn):
    day.play(phone.page, phone.site)
    day.wait(phone.page, lambda: Take.objects.exists())
    take_back(horn)
    took = Take.objects.count()
    expect(phone.page.locator("h1:visible")).to_have_text(["Ask at home first"], timeout=30_000)
    phone.page.wait_for_timeout(3000)
    assert Take.objects.count() == took
    assert stored() == []
    assert [row["state"] for row in day.waiting(phone.page)] in ([], ["refused"])
    assert not phone.page.evaluate("Boolean(window.heard)")  # this page never asked for the microphone


def test_a_long_run_that_sends_nothing_for_minutes_is_stopped_too(phone, horn):
    phone.page.clock.install()
    day.play(phone.page, phone.site)
    phone.page.clock.run_for(500)
    take_back(horn)
    phone.page.clock.fast_forward(31_000)
    expect(phone.page.locator("h1:visible")).to_have_text(["Ask at home first"], timeout=10_000)
    assert not Take.objects.exists()


def finished(phone) -> list[str]:
    """The keys of what was played to its end and is on this phone still."""
    return [row["key"] for row in day.waiting(phone.page)]


def not_answered(route) -> None:
    route.abort()


def shut(route) -> None:
    """As a machine on the way does, or a page of somebody else's."""
    if route.request.method == "HEAD":
        route.fulfill(status=403, body="No.")
    else:
        route.fallback()


def test_a_403_of_another_cause_stops_nobody_and_throws_nothing_away(phone_without_copies):
    phone = phone_without_copies
    phone.page.clock.install()
    phone.context.route("**/api/takes/", not_answered)
    phone.context.route("**/today/play/", shut)
    day.play(phone.page, phone.site)
    day.wait(phone.page, lambda: finished(phone))
    before = finished(phone)
    with phone.page.expect_response(lambda answer: answer.request.method == "HEAD"):
        phone.page.clock.fast_forward(31_000)
    phone.page.wait_for_timeout(1000)
    assert set(before) <= set(finished(phone))
    phone.page.click("[data-do=resume]")  # it goes on where it was
    phone.context.unroute("**/api/takes/")
    day.wait(phone.page, lambda: len(Take.objects.all()) >= 2)


def test_a_recording_of_other_work_that_is_refused_does_not_stop_this_one(phone_without_copies):
    phone = phone_without_copies
    refused = {"code": "no_consent", "text": "Ask at home first."}
    phone.context.route("**/api/takes/", lambda route: route.fulfill(status=403, json=refused), times=1)
    day.play(phone.page, phone.site)
    with phone.page.expect_response(lambda answer: answer.request.method == "HEAD", timeout=60_000):
        pass
    day.wait(phone.page, lambda: Take.objects.exists())
    phone.page.click("[data-do=pause]")
    assert "refused" in [row["state"] for row in day.waiting(phone.page)]
    phone.open("/mine/")
    expect(phone.page.locator("#waiting .row")).to_contain_text(["Ask at home first."])


def test_no_copy_of_the_recorder_is_kept_after_permission_was_taken_back(phone, horn):
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/play/")
    take_back(horn)
    phone.open("/today/")
    gone = "async () => !(await (await caches.open('pages')).match('/today/play/'))"
    day.wait(phone.page, lambda: phone.page.evaluate(gone))
    phone.context.set_offline(True)
    phone.open("/today/play/")
    assert phone.page.locator("[data-do=start]").count() == 0
    phone.context.set_offline(False)
    consent.give(student=horn.player, given_by="a grown-up", how="paper", logged_by=horn.player.user)
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/play/")
