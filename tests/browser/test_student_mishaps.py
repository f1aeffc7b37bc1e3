"""Phones that are full, deaf, called away or asleep while somebody plays: at most the tone in progress is lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import Take
from tests.browser import day

LOSE_MICROPHONE = "heard.getTracks().forEach((one) => { one.stop(); one.dispatchEvent(new Event('ended')); })"
OUT_OF_SIGHT = """(hidden) => {
  Object.defineProperty(document, 'hidden', { configurable: true, get: () => hidden });
  document.dispatchEvent(new Event('visibilitychange'));
}"""
PAUSE_IN_THE_BREATH = """() => new Promise((done) => {
  const breath = document.querySelectorAll('.tone')[1].querySelectorAll('.beats li')[9];
  const look = setInterval(() => {
    if (!breath.matches('.now')) return;
    clearInterval(look);
    setTimeout(() => done(document.querySelector('[data-do=pause]').click()), 200);
  }, 10);
})"""
COMES_NOT_AT_ONCE = """(name) => {
  const ask = navigator.mediaDevices.getUserMedia;
  navigator.mediaDevices.getUserMedia = async (wanted) => {
    navigator.mediaDevices.getUserMedia = ask;
    throw new DOMException("", name);
  };
}"""
DOES_NOT_COME_BACK = {
    "NotAllowedError": "The microphone is shut",
    "NotReadableError": "The microphone went away",
    "NotFoundError": "I find no microphone",
    "SecurityError": "The microphone is shut",
    "AbortError": "The microphone went away",
    "InvalidStateError": "The microphone went away",
}
BREAK_THE_RECORDER = """() => {
  const start = MediaRecorder.prototype.start;
  MediaRecorder.prototype.start = function (...rest) {
    MediaRecorder.prototype.start = start;
    start.apply(this, rest);
    setTimeout(() => {
      this.stop();
      this.dispatchEvent(Object.assign(new Event('error'), { error: new DOMException('encoder', 'EncodingError') }));
    }, 600);
  };
}"""
SLEEP = "const until = performance.now() + 6000; while (performance.now() < until);"
BREAKS_OFF = """() => {
  AudioWorklet.prototype.addModule = async () => { throw new DOMException('', 'InvalidStateError'); };
}"""


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone(device, horn, tmp_path):
    return day.phone_that_plays(device, tmp_path)


def tone(phone, place: int):
    return phone.page.locator(".tone").nth(place)


def heading(phone):
    return phone.page.locator("h1:visible")


def quota(phone, size: int | None) -> None:
    line = phone.context.new_cdp_session(phone.page)
    line.send("Storage.overrideQuotaForOrigin", {"origin": phone.site, **({"quotaSize": size} if size else {})})


def go_on_to(phone, place: int) -> None:
    phone.page.click("[data-do=resume]")
    expect(tone(phone, place)).to_be_visible(timeout=30_000)


def test_a_full_phone_stops_before_a_tone_and_goes_on_when_there_is_room(phone):
    day.play(phone.page, phone.site)
    expect(tone(phone, 2)).to_be_visible(timeout=30_000)
    quota(phone, 1)
    expect(heading(phone)).to_have_text(["This phone is full"], timeout=60_000)  # the browser looks twice a minute
    day.wait(phone.page, lambda: not day.waiting(phone.page))
    played = len(day.received())
    assert played >= 2
    assert day.received() == list(range(played))
    quota(phone, None)
    day.wait(phone.page, lambda: goes_on(phone))
    day.ends(phone, list(range(played + 1)))


def goes_on(phone) -> bool:
    if day.phase(phone) == "full":
        phone.page.click("[data-do=resume]")
        phone.page.wait_for_timeout(2500)  # the count-in, at the end of which the phone looks for room
    return day.phase(phone) == "playing"


def test_a_page_whose_scripts_do_not_come_says_so_and_is_opened_again(phone):
    broken = "**/assignments/run.js"
    phone.expected += ["net::ERR_FAILED", "Failed to fetch dynamically imported module"]
    phone.context.route(broken, lambda route: route.abort())
    phone.open("/today/play/")
    late = phone.page.get_by_text("One moment, the page is still coming.")
    expect(late).to_be_visible(timeout=10_000)
    phone.context.unroute(broken)
    phone.page.get_by_role("link", name="Open it again").click()
    expect(phone.page.locator("[data-do=start]")).to_be_visible(timeout=10_000)
    expect(late).to_be_hidden()


def test_a_microphone_that_was_refused_is_explained_and_asked_for_again(device, horn, tmp_path):
    phone = device(microphone=day.sound(tmp_path / "horn.wav"), allowed=False)
    phone.sign_in("pim")
    day.play(phone.page, phone.site)
    expect(heading(phone)).to_have_text(["The microphone is shut"], timeout=10_000)
    expect(phone.page.get_by_role("link", name="Or send a recording you made elsewhere")).to_be_visible()
    assert not Take.objects.exists()


def test_a_microphone_that_is_lost_in_the_middle_costs_the_tone_in_progress_alone(phone):
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 3, LOSE_MICROPHONE)
    expect(heading(phone)).to_have_text(["The microphone went away"])
    go_on_to(phone, 3)
    day.ends(phone, [0, 1, 2, 3, 4])


def test_a_recorder_that_breaks_costs_the_tone_in_progress_and_is_not_put_on_the_microphone(phone):
    phone.expected.append("encoder")
    day.play(phone.page, phone.site)
    expect(tone(phone, 1)).to_be_visible(timeout=30_000)
    phone.page.evaluate(BREAK_THE_RECORDER)
    expect(heading(phone)).to_have_text(["The recorder stopped"], timeout=30_000)
    phone.page.click("[data-do=resume]")
    day.ends(phone, [0, 1, 2])


def test_a_microphone_that_does_not_come_back_is_told_in_words_and_tried_again(phone):
    day.play(phone.page, phone.site)
    for place, (name, told) in enumerate(DOES_NOT_COME_BACK.items(), start=1):
        day.in_a_tone(phone.page, place, f"({COMES_NOT_AT_ONCE})('{name}'); {LOSE_MICROPHONE}")
        phone.page.click("[data-do=resume]")
        expect(heading(phone)).to_have_text([told])
        phone.page.locator("[data-do=resume]:visible, [data-do=listen]:visible").click()
    day.ends(phone, list(range(len(DOES_NOT_COME_BACK) + 1)))


def test_a_page_out_of_sight_forgets_the_tone_in_progress_alone(phone):
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 2, f"({OUT_OF_SIGHT})(true)")
    expect(heading(phone)).to_have_text(["The page was out of sight"])
    phone.page.wait_for_timeout(5000)
    phone.page.evaluate(OUT_OF_SIGHT, False)
    go_on_to(phone, 2)
    day.ends(phone, [0, 1, 2, 3])


def test_a_phone_that_slept_unseen_does_not_race_through_the_tones(phone):
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 1, SLEEP)
    expect(heading(phone)).to_have_text(["The phone was busy or asleep for a moment"])
    go_on_to(phone, 1)
    day.ends(phone, [0, 1, 2])


def test_a_pause_in_the_breath_after_a_tone_keeps_that_tone_and_asks_the_next(phone):
    day.play(phone.page, phone.site)
    phone.page.evaluate(PAUSE_IN_THE_BREATH)
    go_on_to(phone, 2)
    day.ends(phone, [0, 1, 2])


def test_a_check_of_the_click_that_breaks_off_is_told_and_playing_begins_all_the_same(phone):
    page = phone.open("/today/play/")
    expect(page.locator("[data-do=start]")).to_be_visible()
    page.evaluate(BREAKS_OFF)
    page.get_by_label("Click in headphones").click(force=True)
    expect(page.locator("[data-click]:visible")).to_contain_text("I couldn’t listen for the click.", timeout=20_000)
    expect(page.get_by_label("Light")).to_be_checked()
    page.click("[data-do=start]")
    expect(tone(phone, 0)).to_be_visible()
