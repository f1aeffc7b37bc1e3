"""The teacher's own sound, from microphone to student: a tone shown, a word said at a second, a tone of the lesson."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from django.conf import settings
from playwright.sync_api import Page, expect

from analysis.synthesis import Place, ToneSpec, render, write
from assignments.models import Comment, Demonstration, Take
from tests import people, played
from tests.browser import sounds
from tests.browser.conftest import LAPTOP, PHONE, Device
from tests.browser.day import wait

pytestmark = pytest.mark.django_db(transaction=True)
DAY = dt.timedelta(days=1)
RECORDED_MS = 6_000
LOSES_ONE_ANSWER = """() => {
  const { fetch } = window;
  window.fetch = async (...asked) => {
    window.fetch = fetch;
    await fetch(...asked);
    throw new TypeError("the line broke");
  };
}"""


@pytest.fixture
def g4(tmp_path: Path) -> Path:
    """A written G4 of an alto after a moment of quiet; Chromium plays it round and round."""
    samples, _ = render([ToneSpec(written_midi=67, dynamic="mf", seconds=4.0)], "alto", place=Place(noise_dbfs=-75.0))
    file = tmp_path / "g4.wav"
    write(file, samples, "wav")
    return file


@pytest.fixture
def tried(site, tmp_path):
    """Pim's G4 of yesterday, not on target, with a sound that a browser can play."""
    studio = people.studio()
    teacher, horn = people.teacher(studio).user, people.horn(studio)
    file = tmp_path / "mine.wav"
    write(file, sounds.quiet(9.0), "wav")
    week = played.long_week(horn, teacher)
    return played.day(week, studio.today() - DAY, [(67, "mf")], missed=[(67, "mf")], audio=file.read_bytes())[0]


def record(page: Page, press: str = "Record") -> None:
    """Six seconds of what the microphone hears."""
    page.get_by_role("button", name=press, exact=True).click()
    expect(page.get_by_text("Recording. It stops by itself after a minute.")).to_be_visible()
    page.wait_for_timeout(RECORDED_MS)
    page.get_by_role("button", name="Stop").click()
    expect(page.get_by_text("Listen to it, then send it or record it again.", exact=True)).to_be_visible()
    expect(page.locator("audio:visible")).to_have_count(1)


def plays(page: Page, name: str) -> None:
    """The button plays to its end."""
    button = page.locator("[data-hear], [data-hear-list]").filter(has_text=name)
    button.first.evaluate("(one) => one.addEventListener('footing:heard', () => { document.title = 'heard' })")
    button.first.click()
    expect(page).to_have_title("heard", timeout=30_000)


def fits(page: Page) -> None:
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


@pytest.mark.parametrize("viewport", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_tone_is_shown_from_a_moment_and_the_student_hears_it_beside_their_own(device, g4, tried, viewport):
    desk = device(microphone=g4, viewport=viewport)
    desk.sign_in("marisa")
    page = desk.open(f"/studio/students/{tried.horn_id}/")
    fits(page)
    page.get_by_role("link", name="Show how it should sound").click()
    expect(page.get_by_label("Written note")).to_have_value("67")
    fits(page)
    record(page)
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url(f"**/tones/{tried.pk}/")
    wait(page, lambda: Demonstration.objects.filter(level_db__isnull=False).exists())
    page.reload()
    plays(page, "As the teacher plays it")
    phone = device()
    phone.sign_in("pim")
    pupil = phone.open(f"/tones/{tried.pk}/")
    expect(pupil.get_by_role("heading", name="Your teacher’s")).to_be_visible()
    plays(pupil, "Your teacher’s")
    fits(pupil)


def test_a_word_is_said_at_a_second_and_the_student_hears_it_there(device, g4, tried):
    desk = device(microphone=g4)
    desk.sign_in("marisa")
    page = desk.open(f"/studio/students/{tried.horn_id}/")
    page.get_by_text("Pin a word here").click()
    expect(page.get_by_label("At which second")).to_have_value("3.0")
    page.get_by_label("At which second").fill("2.5")
    record(page)
    fits(page)
    page.get_by_role("button", name="Pin it").click()
    wait(page, lambda: Comment.objects.filter(at_s=2.5, voice__state="measured").exists())
    phone = device()
    phone.sign_in("pim")
    pupil = phone.open("/lesson/")
    plays(pupil, "Hear Marisa")
    fits(pupil)


def test_a_line_that_breaks_loses_no_word(device, g4, tried):
    desk = device(microphone=g4)
    desk.sign_in("marisa")
    page = desk.open(f"/tones/{tried.pk}/")
    page.get_by_text("Pin a word here").click()
    record(page)
    desk.context.set_offline(True)
    page.get_by_role("button", name="Pin it").click()
    expect(page.get_by_text("It could not be sent. It is still here: try again.")).to_be_visible()
    desk.context.set_offline(False)
    page.evaluate(LOSES_ONE_ANSWER)
    page.get_by_role("button", name="Pin it").click()
    said = Comment.objects.filter(voice__isnull=False)
    wait(page, lambda: said.count() == 1)
    expect(page.get_by_text("It could not be sent. It is still here: try again.")).to_be_visible()
    record(page, "Record it again")
    page.get_by_role("button", name="Pin it").click()
    wait(page, lambda: said.count() == 2)
    assert len(set(said.values_list("voice__sha256", flat=True))) == 2


def test_a_page_that_comes_instead_of_an_answer_is_told_for_what_it_is(device, g4, tried):
    desk = device()
    desk.sign_in("marisa")
    page = desk.open(f"/tones/{tried.pk}/")
    page.get_by_text("Pin a word here").click()
    page.get_by_label("Or choose a file").set_input_files(g4)
    desk.expected.append("Failed to load resource")
    for status, words in (
        (413, "That file is over 20 MB. Record a minute at most."),
        (403, "The studio doesn’t take it from this page any more."),
        (502, "It could not be sent. It is still here: try again."),
    ):
        page.route("**/comment/", lambda route, *, n=status: route.fulfill(status=n, body="<p>A page.</p>"))
        page.get_by_role("button", name="Pin it").click()
        expect(page.get_by_text(words)).to_be_visible()
        page.unroute("**/comment/")
    desk.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    page.get_by_role("button", name="Pin it").click()
    expect(page.get_by_text("You are signed out.")).to_be_visible()
    assert not Comment.objects.exists()
    Device(desk.context, desk.context.new_page(), desk.site).sign_in("marisa")
    page.get_by_role("button", name="Pin it").click()
    wait(page, lambda: Comment.objects.filter(voice__isnull=False).count() == 1)


def test_leaving_while_it_records_is_asked_about(device, g4, tried):
    desk = device(microphone=g4)
    desk.sign_in("marisa")
    page = desk.open("/studio/demonstrations/record/")
    page.get_by_role("button", name="Record", exact=True).click()
    expect(page.get_by_text("Recording. It stops by itself after a minute.")).to_be_visible()
    with page.expect_event("dialog") as asked:
        page.close(run_before_unload=True)
    assert asked.value.type == "beforeunload"
    asked.value.dismiss()
    expect(page.get_by_role("button", name="Stop")).to_be_visible()


def test_a_tone_of_the_lesson_is_recorded_together_and_heard_at_home(device, g4, tried):
    desk = device(microphone=g4, viewport=LAPTOP)
    desk.sign_in("marisa")
    page = desk.open(f"/studio/students/{tried.horn_id}/")
    page.get_by_role("link", name="Record a tone with it").click()
    record(page)
    page.get_by_label("What did you hear together?").fill("That is the one")
    page.get_by_role("button", name="Keep it").click()
    expect(page.get_by_text("That is the one")).to_be_visible()
    wait(page, lambda: Take.objects.filter(in_lesson=True, settled_at__isnull=False).exists())
    assert Take.objects.get(in_lesson=True).tries.get().outcome == "hit"
    phone = device()
    phone.sign_in("pim")
    pupil = phone.open("/lesson/")
    expect(pupil.get_by_text("That is the one")).to_be_visible()
    expect(pupil.get_by_role("button", name="From the lesson")).to_be_visible()


def test_a_microphone_that_is_refused_leaves_the_file(device, g4, tried):
    desk = device(microphone=g4, allowed=False)
    desk.context.add_init_script(
        "navigator.mediaDevices.getUserMedia = () => Promise.reject(new DOMException('no', 'NotAllowedError'))"
    )
    desk.sign_in("marisa")
    page = desk.open("/studio/demonstrations/record/")
    page.get_by_role("button", name="Record", exact=True).click()
    expect(page.get_by_text("The microphone is shut.")).to_be_visible()
    page.get_by_label("Or choose a file").set_input_files(g4)
    page.get_by_role("button", name="Keep it").click()
    page.wait_for_url("**/studio/demonstrations/")
    wait(page, lambda: Demonstration.objects.filter(level_db__isnull=False).exists())
