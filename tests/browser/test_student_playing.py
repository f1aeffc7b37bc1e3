"""A student plays today's tones on a phone: recorded in the page, sent, measured by the worker, and seen."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import DayPlan, Take, Try
from tests import builders, people
from tests.browser import day, sounds

TONES = ((67, "mf"), (60, "f"), (72, "mf"))


@pytest.fixture
def horn(site):
    """Pim, with three tones to play today."""
    studio = people.studio()
    horn = people.horn(studio)
    week = builders.week(horn, people.teacher(studio).user)
    tones = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": "oldest"} for midi, tone in TONES]
    DayPlan.objects.create(horn=horn, week=week, on=studio.today(), tones=tones)
    return horn


@pytest.fixture
def phone(device, horn, tmp_path):
    one = device(microphone=sounds.played(TONES, tmp_path / "horn.wav"))
    one.sign_in("pim")
    return one


def start(phone) -> None:
    phone.open("/today/play/")
    phone.page.click("[data-do=start]")


def test_tones_are_recorded_in_the_page_measured_by_the_worker_and_seen(phone, horn):
    start(phone)
    phone.page.wait_for_url("**/after/", timeout=60_000)
    expect(phone.page.locator("h1")).to_have_text("That’s today’s three")
    expect(phone.page.locator(".heard-tone")).to_have_count(3, timeout=120_000)
    assert list(Try.objects.order_by("played_at").values_list("written_midi", "outcome")) == [
        (midi, "hit") for midi, _tone in TONES
    ]
    settings = Take.objects.first().recorder
    assert settings["autoGainControl"] is False


def test_without_network_nothing_is_lost_and_everything_arrives_once(phone, horn):
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/play/")
    start(phone)
    day.in_a_tone(phone.page, 0, "")
    phone.context.set_offline(True)  # before anything can have gone up
    expect(phone.page.locator(".tone").nth(2)).to_be_visible(timeout=30_000)
    phone.page.wait_for_timeout(4000)  # well into the third tone, then the page is gone
    phone.page.reload()
    expect(phone.page.locator("[data-do=start]")).to_be_visible()
    phone.open("/today/")
    expect(phone.page.locator("#waits")).to_contain_text("Waiting on this phone: 2")
    expect(phone.page.locator(".act:visible")).to_contain_text("Go on")  # though the kept page was made before any tone
    phone.context.set_offline(False)
    expect(phone.page.locator("#waits")).not_to_contain_text("Waiting", timeout=30_000)
    asked = [slot["slot"] for take in Take.objects.order_by("received_at") for slot in take.asked]
    assert asked == [0, 1]
    start(phone)
    expect(phone.page.locator(".tone").nth(2)).to_be_visible()  # the one that was cut short, and no other
    phone.context.set_offline(True)
    phone.page.click("[data-do=pause]")
    phone.page.click("[data-do=finish]")
    expect(phone.page.locator("h1:visible")).to_have_text(["That’s it for now"])
    phone.page.wait_for_timeout(1000)  # nothing waits, and what was heard of it can't be fetched
    assert phone.page.url.endswith("/today/play/")


def test_the_ground_stands_still_while_one_plays_whatever_waits_and_a_pause_says_it(phone, horn):
    phone.context.route("**/api/takes/", lambda route: route.abort())
    phone.expected.append("net::ERR_FAILED")
    start(phone)
    expect(phone.page.locator(".tone").nth(2)).to_be_visible(timeout=60_000)
    expect(phone.page.locator("#waits")).to_contain_text("Waiting on this phone: 2")
    expect(phone.page.locator(".band .status")).to_be_hidden()
    phone.page.click("[data-do=pause]")
    expect(phone.page.locator("#waits")).to_be_visible()


def test_without_network_a_page_seen_before_is_there_as_a_copy_and_another_says_that_nothing_is_lost(phone, horn):
    seen = ("/lesson/", "/high-notes/", "/evenness/")
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/play/")
    for path in seen:
        phone.open(path)
        day.wait_until_kept(phone.page, path)
    phone.context.set_offline(True)
    for path in seen:
        expect(phone.open(path).locator("#kept")).to_contain_text("This is your copy of")
    expect(phone.open("/after/").locator("main")).to_contain_text("What you play waits on this phone")


def test_a_player_who_stops_is_waited_for_and_stopping_for_pain_ends_the_day(device, horn, tmp_path):
    phone = device(microphone=sounds.played(TONES, tmp_path / "silence.wav", silent=(0, 1, 2)))
    phone.sign_in("pim")
    start(phone)
    expect(phone.page.locator("[data-when=waiting]").first).to_be_visible(timeout=40_000)
    for of_another_moment in (".tone:visible .next", ".status a"):
        expect(phone.page.locator(of_another_moment)).to_be_hidden()
    phone.page.click("[data-hurts] button")
    expect(phone.page.locator("h1:visible")).to_have_text(["Stopping was right"])
    phone.page.wait_for_url("**/hurts/")
    assert DayPlan.objects.get().stopped_hurting_at is not None
    assert not Take.objects.exists()


def test_a_run_that_ends_early_is_one_recording_of_what_was_played(device, horn, tmp_path):
    phone = device(microphone=sounds.played([(58, "mf"), (59, "mf"), (60, "mf")], tmp_path / "run.wav"))
    phone.sign_in("pim")
    run = horn.weeks.get().exercises.get(kind="evenness_run")
    phone.open(f"/exercises/{run.pk}/?play=1")
    phone.page.click("text=Play without the check")
    phone.page.click("[data-do=start]")
    expect(phone.page.locator(".tone").nth(2)).to_be_visible(timeout=40_000)
    phone.page.click("[data-do=pause]")
    phone.page.click("text=Enough for now")
    phone.page.wait_for_url(f"**/exercises/{run.pk}/", timeout=20_000)
    take = Take.objects.get()
    assert [slot["written_midi"] for slot in take.asked] == [58, 59]


def test_on_a_phone_on_its_side_the_three_targets_and_the_beats_are_seen_together(device, horn, tmp_path):
    phone = device(microphone=sounds.played(TONES, tmp_path / "horn.wav"), viewport={"width": 740, "height": 360})
    phone.sign_in("pim")
    start(phone)
    for seen in (".beats:visible", "[data-do=pause]", "[data-do=again]", "[data-hurts] button"):
        expect(phone.page.locator(seen)).to_be_in_viewport(ratio=1)
