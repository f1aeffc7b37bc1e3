"""A tablet that children share, without network: whoever played last goes on, nobody sees anything of anybody else."""

from __future__ import annotations

import pytest
from django.conf import settings as site_settings
from playwright.sync_api import expect

from assignments.models import Comment, DayPlan, Take
from studio import devices, pins
from studio.models import Membership
from tests import people
from tests.browser import day

DIGITS = "270951"


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def tablet(device, horn, tmp_path):
    """Enrolled for Pim and Ottilie; Pim has opened Today on it."""
    studio = horn.studio
    ottilie = people.horn(studio, "Ottilie Fenn").player
    by = people.person("Edda Fenn", studio, Membership.Role.GUARDIAN).user
    for player in (horn.player, ottilie):
        pins.set_pin(player, DIGITS, by=by)
    _, secret = devices.enrol(studio=studio, by=by, name="kitchen tablet", players=[horn.player, ottilie])
    one = device(microphone=day.sound(tmp_path / "horn.wav"))
    cookie = site_settings.SESSION_COOKIE_NAME + "-device"
    one.context.add_cookies([{"name": cookie, "value": secret, "url": one.site}])
    come_in(one, "Pim Larkspur")
    for path in ("/today/play/", "/hurts/"):
        day.wait_until_kept(one.page, path)
    return one


def come_in(tablet, name: str) -> None:
    tablet.open("/whose-turn/").click(f"text={name}")
    tablet.page.fill("[name=digits]", DIGITS)
    tablet.page.click("button.act")
    tablet.page.wait_for_url("**/today/")


def headline(tablet):
    return tablet.page.locator("h1:visible")


def test_without_network_nobody_else_can_begin_and_whoever_played_last_goes_on(tablet):
    tablet.context.set_offline(True)
    tablet.open("/whose-turn/")
    expect(headline(tablet)).to_have_text(["Changing who plays needs a network"])
    assert "Pim" not in tablet.page.content()
    tablet.page.click("text=Back to today")
    expect(tablet.page.locator("#kept")).to_contain_text("This is your copy of")
    day.play(tablet.page, tablet.site)
    expect(tablet.page.locator(".tone").nth(2)).to_be_visible(timeout=30_000)
    tablet.page.click("[data-do=pause]")
    tablet.page.click("[data-do=finish]")
    tablet.context.set_offline(False)
    day.wait(tablet.page, lambda: Take.objects.count() == 2, 60)


def test_what_one_child_left_waiting_goes_up_as_theirs_and_is_neither_shown_nor_sent_to_the_next(tablet, horn):
    tablet.context.route("**/api/takes/", lambda route: route.abort())  # a line that carries pages alone
    tablet.expected.append("net::ERR_FAILED")
    day.play(tablet.page, tablet.site)
    expect(tablet.page.locator(".tone").nth(1)).to_be_visible(timeout=30_000)
    tablet.page.click("[data-do=pause]")
    tablet.page.click("[data-do=finish]")
    come_in(tablet, "Ottilie Fenn")
    tablet.context.unroute("**/api/takes/")
    tablet.open("/mine/")
    expect(tablet.page.locator("#nothing-waits")).to_be_visible()
    tablet.page.wait_for_timeout(1500)
    assert not Take.objects.exists()
    come_in(tablet, "Pim Larkspur")
    day.wait(tablet.page, Take.objects.exists, 30)
    assert Take.objects.get().horn == horn


def test_signing_out_without_network_leaves_nothing_to_see_and_is_done_before_anybody_opens_a_page(tablet):
    tablet.open("/mine/")
    tablet.context.set_offline(True)
    tablet.page.get_by_role("button", name="Sign out").click()
    expect(headline(tablet)).to_have_text(["Changing who plays needs a network"])
    for path in ("/today/", "/mine/", "/takes/"):
        tablet.open(path)
        expect(headline(tablet)).to_have_text(["Changing who plays needs a network"])
    tablet.context.set_offline(False)
    tablet.open("/today/")
    tablet.page.wait_for_url("**/whose-turn/**")
    expect(headline(tablet)).to_have_text(["Whose turn?"])


def test_signing_out_while_the_studio_is_down_is_done_before_anybody_opens_a_page(tablet):
    tablet.expected.append("status of 503")
    tablet.open("/mine/")
    tablet.context.route("**/sign-out/", lambda route: route.fulfill(status=503, body="away"))
    tablet.page.get_by_role("button", name="Sign out").click()
    expect(headline(tablet)).to_have_text(["Changing who plays needs a network"])
    tablet.open("/today/")
    expect(headline(tablet)).to_have_text(["Changing who plays needs a network"])
    tablet.context.unroute("**/sign-out/")
    tablet.open("/today/")
    tablet.page.wait_for_url("**/whose-turn/**")


def test_stopping_for_pain_without_network_is_kept_for_the_day_it_was(tablet, horn):
    tablet.context.set_offline(True)
    tablet.open("/today/").get_by_role("link", name="Something hurts").click()
    expect(tablet.page.get_by_text("When to ask for help")).to_be_visible()
    tablet.page.get_by_role("button", name="Stop for today").click()
    expect(tablet.page.locator("#stopped-here")).to_be_visible()
    assert not DayPlan.objects.exclude(stopped_hurting_at=None).exists()
    tablet.context.set_offline(False)
    day.wait(tablet.page, lambda: DayPlan.objects.exclude(stopped_hurting_at=None).exists(), 30)


def test_a_word_to_the_teacher_written_without_network_waits_and_goes_up_once(tablet, horn):
    tablet.open("/lesson/")
    tablet.context.set_offline(True)
    tablet.page.fill("[name=text]", "The low C was easy today.")
    tablet.page.click("button[form=word]")
    expect(tablet.page.locator("#word-waits")).to_be_visible()
    tablet.context.set_offline(False)
    day.wait(tablet.page, Comment.objects.exists, 30)
    tablet.open("/lesson/")
    tablet.page.wait_for_timeout(1000)
    assert [word.text for word in Comment.objects.all()] == ["The low C was easy today."]


def test_any_other_form_without_network_leads_back_to_its_page_to_see_what_arrived(tablet):
    tablet.open("/mine/?from=a&b=c")
    tablet.page.evaluate("document.getElementById('mine').action = '/lesson/'")  # as many forms go elsewhere
    tablet.context.set_offline(True)
    tablet.page.locator("button[form=mine]").click()
    expect(headline(tablet)).to_have_text(["No network: I can’t tell whether that arrived"])
    tablet.context.set_offline(False)
    tablet.page.click("text=Back to the page")
    tablet.page.wait_for_url("**/mine/?from=a&b=c")


def test_a_page_that_comes_back_from_the_browsers_memory_is_asked_for_anew(tablet):
    with tablet.page.expect_navigation():
        tablet.page.evaluate("dispatchEvent(new PageTransitionEvent('pageshow', { persisted: true }))")


def test_a_studio_that_does_not_answer_is_told_with_the_day_of_the_copy(tablet):
    tablet.expected.append("status of 502")
    tablet.open("/today/")
    expect(tablet.page.locator("#kept")).to_be_hidden()
    tablet.context.route("**/today/", lambda route: route.fulfill(status=502, body="away"))
    tablet.open("/today/")
    expect(tablet.page.locator("#kept")).to_contain_text("The studio doesn’t answer. This is your copy of")
    expect(tablet.page.get_by_role("link", name="Set up and start")).to_be_visible()
