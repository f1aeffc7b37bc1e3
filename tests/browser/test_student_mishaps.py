"""Phones that are full, deaf, called away or asleep while somebody plays: at most the tone in progress is lost."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import Take
from tests.browser import day

KEEP_STREAMS = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wanted) => (window.heard = await ask(wanted));
"""
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
SLEEP = "const until = performance.now() + 6000; while (performance.now() < until);"


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone(device, horn, tmp_path):
    one = device(microphone=day.sound(tmp_path / "horn.wav"))
    one.context.add_init_script(KEEP_STREAMS)
    one.sign_in("pim")
    return one


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


def all_of(phone, places: list[int]) -> None:
    """Enough for now; then these tones are in the studio, once each."""
    phone.page.click("[data-do=pause]")
    phone.page.click("[data-do=finish]")
    day.wait(phone.page, lambda: Take.objects.count() >= len(places), 30)
    assert sorted(day.received()) == places


def test_a_full_phone_stops_before_a_tone_and_goes_on_when_there_is_room(phone):
    day.play(phone.page, phone.site)
    expect(tone(phone, 2)).to_be_visible(timeout=30_000)
    quota(phone, 1)
    expect(heading(phone)).to_have_text(["This phone is full"], timeout=60_000)  # the browser looks twice a minute
    day.wait(phone.page, lambda: len(day.received()) >= 2, 20)
    played = len(day.received())
    assert day.received() == list(range(played))
    quota(phone, None)
    day.wait(phone.page, lambda: goes_on(phone), 60)
    expect(tone(phone, played + 1)).to_be_visible(timeout=30_000)
    all_of(phone, list(range(played + 1)))


def goes_on(phone) -> bool:
    if day.phase(phone) == "full":
        phone.page.click("[data-do=resume]")
        phone.page.wait_for_timeout(2500)  # the count-in, at the end of which the phone looks for room
    return day.phase(phone) == "playing"


def test_a_microphone_that_was_refused_is_explained_and_asked_for_again(device, horn, tmp_path):
    phone = device(microphone=day.sound(tmp_path / "horn.wav"), allowed=False)
    phone.sign_in("pim")
    day.play(phone.page, phone.site)
    expect(heading(phone)).to_have_text(["The microphone is shut"], timeout=10_000)
    expect(phone.page.get_by_role("link", name="Or send a recording you made elsewhere")).to_be_visible()
    assert not Take.objects.exists()


def test_a_microphone_that_is_lost_in_the_middle_costs_the_tone_in_progress_alone(phone):
    day.play(phone.page, phone.site)
    expect(tone(phone, 3)).to_be_visible(timeout=30_000)
    phone.page.wait_for_timeout(1500)
    phone.page.evaluate(LOSE_MICROPHONE)
    expect(heading(phone)).to_have_text(["The microphone went away"])
    go_on_to(phone, 3)
    expect(tone(phone, 5)).to_be_visible(timeout=30_000)
    all_of(phone, [0, 1, 2, 3, 4])


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("NotAllowedError", "The microphone is shut"),
        ("NotReadableError", "The microphone went away"),
        ("NotFoundError", "I find no microphone"),
        ("SecurityError", "The microphone is shut"),
        ("AbortError", "The microphone went away"),
        ("InvalidStateError", "The microphone went away"),
    ],
)
def test_a_microphone_that_does_not_come_back_is_told_in_words_and_tried_again(phone, name, told):
    day.play(phone.page, phone.site)
    expect(tone(phone, 1)).to_be_visible(timeout=30_000)
    phone.page.evaluate(
        """(name) => {
          const ask = navigator.mediaDevices.getUserMedia;
          navigator.mediaDevices.getUserMedia = async (wanted) => {
            navigator.mediaDevices.getUserMedia = ask;
            throw new DOMException("", name);
          };
        }""",
        name,
    )
    phone.page.evaluate(LOSE_MICROPHONE)
    phone.page.click("[data-do=resume]")
    expect(heading(phone)).to_have_text([told])
    phone.page.locator("[data-do=resume]:visible, [data-do=listen]:visible").click()
    expect(tone(phone, 3)).to_be_visible(timeout=30_000)
    all_of(phone, [0, 1, 2])


def test_a_page_out_of_sight_forgets_the_tone_in_progress_alone(phone):
    day.play(phone.page, phone.site)
    expect(tone(phone, 2)).to_be_visible(timeout=30_000)
    phone.page.wait_for_timeout(1500)
    phone.page.evaluate(OUT_OF_SIGHT, True)
    expect(heading(phone)).to_have_text(["The page was out of sight"])
    phone.page.wait_for_timeout(5000)
    phone.page.evaluate(OUT_OF_SIGHT, False)
    go_on_to(phone, 2)
    expect(tone(phone, 4)).to_be_visible(timeout=30_000)
    all_of(phone, [0, 1, 2, 3])


def test_a_phone_that_slept_unseen_does_not_race_through_the_tones(phone):
    day.play(phone.page, phone.site)
    expect(tone(phone, 1)).to_be_visible(timeout=30_000)
    phone.page.wait_for_timeout(1500)
    phone.page.evaluate(SLEEP)
    expect(heading(phone)).to_have_text(["The page was out of sight"])
    go_on_to(phone, 1)
    expect(tone(phone, 3)).to_be_visible(timeout=30_000)
    all_of(phone, [0, 1, 2])


def test_a_pause_in_the_breath_after_a_tone_keeps_that_tone_and_asks_the_next(phone):
    day.play(phone.page, phone.site)
    phone.page.evaluate(PAUSE_IN_THE_BREATH)
    go_on_to(phone, 2)
    expect(tone(phone, 3)).to_be_visible(timeout=30_000)
    all_of(phone, [0, 1, 2])
