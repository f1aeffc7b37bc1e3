"""A click in headphones counts in, once the microphone was found not to hear it; and no click is in a take."""

from __future__ import annotations

import re
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import expect

from analysis import audio
from analysis.core.spectrum import SAMPLE_RATE_HZ as DECODED_HZ
from analysis.synthesis import SAMPLE_RATE_HZ, Place, ToneSpec, render, write
from assignments.models import DayPlan, Take
from tests.browser import clicking, day, sounds

CLICK_HZ, CLICK_S, CLICK_FADES_TO = 1600.0, 0.03, 0.005  # as assignments/static/assignments/click.js plays it
LOUDEST_BY_CHANCE_DB = 16.0  # of one instant among the hundreds of a take, over their median; noise alone: 10 to 12


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone_that(device, horn, tmp_path):
    """``phone_that(does)``: Pim's phone in a room that is first quiet; the script runs before each page's own."""

    def start(does: str = "", microphone: Path | None = None):  # type: ignore[no-untyped-def]  # a Device
        one = device(microphone=microphone or quiet_then_steady(tmp_path / "room.wav"))
        one.context.add_init_script(clicking.WRITES_CLICKS_DOWN + does)
        one.sign_in("pim")
        return one

    return start


def quiet_then_steady(file: Path) -> Path:
    """Twelve seconds of a quiet room; then something steady, so that whoever waits for a tone goes on.

    It stops for a second now and then: however slow the machine, the page finds how quiet the room is.
    """
    steady = np.random.default_rng(4).normal(0.0, 10 ** (-40 / 20), 4 * SAMPLE_RATE_HZ).astype(np.float32)
    write(file, np.concatenate([sounds.quiet(12), *[steady, sounds.quiet(1)] * 24]), "wav")
    return file


def choose(phone, name: str = "Click in headphones") -> None:
    phone.open("/today/play/")
    expect(phone.page.locator("[data-do=start]")).to_be_visible()
    phone.page.get_by_label(name).check(force=True)  # the picture over it is what one touches


def told(phone, words: str) -> None:
    expect(phone.page.locator("[data-click]:visible")).to_contain_text(words, timeout=20_000)


def plays(phone) -> tuple[list[Take], list[float]]:
    """Two tones and the beginning of a third: the takes, and when it clicked meanwhile."""
    checked = len(clicks(phone))
    phone.page.click("[data-do=start]")
    expect(phone.page.locator(".tone").nth(2)).to_be_visible(timeout=90_000)
    phone.page.click("[data-do=pause]")
    counted = clicks(phone)[checked:]  # before the page goes on to what was heard
    phone.page.click("[data-do=finish]")
    day.wait(phone.page, lambda: Take.objects.count() >= 2)
    return list(Take.objects.order_by("received_at")), counted


def clicks(phone) -> list[float]:
    """When it clicked or is about to, in seconds of the sound's own clock."""
    return list(phone.page.evaluate("clicks.map(({ at }) => at)"))


def loudest_click_db(take: Take) -> float:
    """How far the likeliest instant of a click stands over the take's usual one."""
    with audio.read(take.analysis.audio.path) as recording:
        samples = np.concatenate(list(recording)).astype(float)
    at_s = np.arange(round(CLICK_S * DECODED_HZ)) / DECODED_HZ
    click = CLICK_FADES_TO ** (at_s / CLICK_S) * np.exp(-2j * np.pi * CLICK_HZ * at_s)
    power = np.abs(np.convolve(samples, click[::-1], "valid")) ** 2
    return float(10 * np.log10(power.max() / np.median(power)))


def test_a_click_that_the_microphone_does_not_hear_counts_in_on_the_beat_and_is_in_no_take(phone_that):
    phone = phone_that()
    asked: list[str] = []
    phone.page.on("request", lambda request: asked.append(request.url.rsplit("/", 1)[-1]))
    phone.open("/today/play/")
    assert "count_in.js" in asked
    assert "click.js" not in asked  # who wants light needs no sound
    choose(phone)
    told(phone, "The microphone doesn’t hear the click")
    assert "click.js" in asked
    takes, counted = plays(phone)
    assert len(counted) >= 12  # four before each of three tones
    assert np.diff(counted[:4]) == pytest.approx([60 / day.QUICK] * 3)
    assert {take.recorder["count_in"] for take in takes} == {"click"}
    assert max(map(loudest_click_db, takes)) < LOUDEST_BY_CHANCE_DB


@pytest.mark.parametrize("gain", [0.5, 0.002])  # a phone's own loudspeaker; open headphones, not to be heard by ear
def test_a_click_that_the_microphone_hears_is_refused_in_words_and_light_counts_in(phone_that, gain):
    phone = phone_that(clicking.HEARS_ITSELF.replace("GAIN", str(gain)))
    choose(phone)
    told(phone, "The microphone hears the click: put headphones on, or use the light.")
    expect(phone.page.get_by_label("Light")).to_be_checked()
    takes, counted = plays(phone)
    assert counted == []
    assert {take.recorder["count_in"] for take in takes} == {"light"}


def test_a_click_in_a_take_would_be_found(phone_that):
    phone = phone_that(clicking.HEARS_ITSELF.replace("GAIN", "0.2"))
    phone.page.evaluate(clicking.WANTED_AND_CHECKED)
    phone.open("/today/play/")
    takes, _ = plays(phone)
    assert min(map(loudest_click_db, takes)) > LOUDEST_BY_CHANCE_DB


def test_whoever_clicked_yesterday_is_checked_again_in_todays_quiet(phone_that, tmp_path, horn):
    specs = [ToneSpec(written_midi=67, dynamic=level, seconds=2.6, gap_s=0.9) for level in ("mf", "fff", "ppp")]
    tones = render(specs, "alto", place=Place(noise_dbfs=sounds.ROOM_DBFS))[0]
    write(tmp_path / "check.wav", np.concatenate([sounds.quiet(12), tones, sounds.quiet(20)]), "wav")
    phone = phone_that(microphone=tmp_path / "check.wav")
    phone.page.evaluate("""localStorage.setItem('footing-click', '{"on": "yesterday", "plugged": ""}')""")
    phone.open("/today/set-up/")
    told(phone, "Quiet for three seconds")
    expect(phone.page.locator("[data-do=start]")).to_be_visible(timeout=60_000)
    told(phone, "The microphone doesn’t hear the click")
    expect(phone.page.get_by_label("Click in headphones")).to_be_checked()
    day.wait(phone.page, lambda: DayPlan.objects.get().sound_check is not None)
    assert DayPlan.objects.get().sound_check["noise_db"] == pytest.approx(sounds.ROOM_DBFS, abs=4)  # of the room alone


def test_another_day_or_other_headphones_ask_for_the_check_again(phone_that):
    phone = phone_that()
    phone.page.set_viewport_size({"width": 360, "height": 640})
    phone.page.evaluate(clicking.WANTED_AND_CHECKED)
    phone.open("/today/play/")
    expect(phone.page.get_by_label("Click in headphones")).to_be_checked()
    phone.page.evaluate(clicking.OTHER_HEADPHONES)
    told(phone, "Another day, or other headphones")
    expect(phone.page.get_by_label("Light")).to_be_checked()
    phone.page.evaluate("""localStorage.setItem('footing-click', '{"on": "yesterday", "plugged": ""}')""")
    phone.open("/today/play/")
    phone.page.click("[data-do=start]")
    told(phone, "Another day, or other headphones")
    expect(phone.page.locator("[data-do=start]")).to_be_visible()  # it asks before it begins
    words = phone.page.locator("#count-in [data-click]:visible").bounding_box()
    assert words["y"] + words["height"] <= phone.page.locator(".band").bounding_box()["y"]  # nothing lies over them
    phone.page.click("[data-do=start]")
    expect(phone.page.locator(".tone").first).to_be_visible()


def test_headphones_that_are_pulled_out_while_somebody_plays_end_the_clicks_at_once(phone_that):
    phone = phone_that()
    phone.page.evaluate(clicking.WANTED_AND_CHECKED)
    phone.open("/today/play/")
    phone.page.click("[data-do=start]")
    day.wait(phone.page, lambda: len(clicks(phone)) >= 2)
    phone.page.evaluate(clicking.OTHER_HEADPHONES)
    phone.page.wait_for_function("localStorage.getItem('footing-click') === null")  # it has noticed
    before = len(clicks(phone))
    expect(phone.page.locator(".tone").nth(1)).to_be_visible(timeout=90_000)
    assert len(clicks(phone)) == before


def test_a_busy_page_clicks_evenly_and_a_pause_ends_the_clicks_that_were_to_come(phone_that):
    phone = phone_that()
    phone.page.evaluate(clicking.WANTED_AND_CHECKED)
    phone.open("/today/play/")
    phone.page.click("[data-do=start]")
    phone.page.wait_for_function(clicking.BUSY_FROM_THE_FIRST_CLICK_ON, polling=20)
    assert np.diff(clicks(phone)[:4]) == pytest.approx([60 / day.QUICK] * 3)
    assert phone.page.evaluate("clicks.slice(0, 4).every(({ at, handedOverAt }) => at > handedOverAt)")
    phone.page.wait_for_function("() => clicks.length > 4", timeout=60_000, polling=20)  # counted in again
    phone.page.evaluate("document.querySelector('[data-do=pause]').click()")
    assert phone.page.evaluate("clicks.filter(({ source, at }) => at > source.context.currentTime)") == []


def test_without_network_and_never_heard_before_the_click_is_put_off_in_words(phone_that):
    phone = phone_that()
    phone.context.route(re.compile(r"/click\.js"), lambda route: route.abort())
    phone.expected.append("net::ERR_FAILED")
    choose(phone)
    told(phone, "The click needs a network the first time")
    expect(phone.page.get_by_label("Light")).to_be_checked()


def test_a_faint_click_is_told_from_a_room_and_from_knocks(phone_that):
    phone = phone_that()
    alone = phone.page.evaluate(clicking.ROOMS, [100, 0, 0]) + phone.page.evaluate(clicking.ROOMS, [100, 0, 3])
    faint = phone.page.evaluate(
        clicking.ROOMS, [25, 10 ** (-78 / 20), 3]
    )  # 3 dB under the room, however long its way is
    assert max(alone) < 9.0 < min(faint)
