"""Can the phone hear me? The check before the first tone, with a synthesised horn and with numbers alone."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import DayPlan
from tests import builders, people
from tests.browser import day, sounds
from tests.browser.conftest import ROOT, Device

K_WEIGHTING_48_KHZ = {  # ITU-R BS.1770-4, tables 1 and 2
    "shelf": ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1.0, -1.69065929318241, 0.73248077421585]),
    "highPass": ([1.0, -2.0, 1.0], [1.0, -1.99004745483398, 0.99007225036621]),
}

LAST_STEP_AND_GROUND = """() => {
  if (document.body.dataset.phase !== 'checking') return false;
  const waits = document.getElementById('waits');
  waits.textContent = waits.dataset.offline;
  const box = (one) => document.querySelector(one).getBoundingClientRect();
  return [box('[data-step=softest]').bottom, box('.band').top];
}"""


@pytest.fixture
def plan(site):
    studio = people.studio()
    horn = people.horn(studio)
    week = builders.week(horn, people.teacher(studio).user)
    tones = [{"written_midi": 67, "tone": "mf", "lane": "coverage", "why": "oldest"}]
    return DayPlan.objects.create(horn=horn, week=week, on=studio.today(), tones=tones)


def call(phone, module: str, body: str, *arguments: object) -> object:
    """Runs ``body`` with the exports of one of the site's modules as ``m``."""
    script = f"async (a) => {{ const m = await import('/static/assignments/{module}.js'); {body} }}"
    return phone.page.evaluate(script, list(arguments))


def test_the_horn_is_heard_and_each_step_goes_on_by_itself(device, plan, tmp_path):
    phone = device(microphone=sounds.sound_check(tmp_path / "check.wav"))
    phone.sign_in("pim")
    phone.page.click("text=Set up and start")
    expect(phone.page.locator("[data-do=start]")).to_be_visible(timeout=30_000)
    expect(phone.page.locator("[data-word=help_off]")).to_be_visible()
    expect(phone.page.locator('.check use[href="#mark-hit"]')).to_have_count(4)  # heard, and a sign that the page has
    expect(phone.page).to_have_url(phone.site + "/today/play/")
    day.wait(phone.page, lambda: DayPlan.objects.get().sound_check is not None)
    check = DayPlan.objects.get().sound_check
    assert (check["softest_db"], check["loudest_db"]) == pytest.approx((-40.0, -15.5), abs=0.3)  # as they were rendered
    assert check["settings"]["easy_db"] == pytest.approx(-26.0, abs=0.3)
    assert check["settings"]["noiseSuppression"] is False


def test_a_microphone_that_is_refused_is_explained_with_another_way(device, plan):
    phone = device()
    page = phone.sign_in("pim")
    phone.open("/today/set-up/")
    page.click("text=Let the phone listen")
    expect(page.locator("h1:visible")).to_have_text(["I find no microphone"])
    expect(page.get_by_role("link", name="Back to today")).to_be_visible()
    page.click("[data-when=no_microphone] a")
    expect(page.locator("h1")).to_have_text("Send a recording")


def test_in_the_largest_type_the_distance_is_words_and_no_column_of_letters(device, plan):
    phone = device(viewport={"width": 360, "height": 740})
    page = phone.sign_in("pim")
    phone.open("/today/set-up/")
    expect(page.locator(".distance b")).to_be_visible()
    page.evaluate("document.documentElement.dataset.type = '200'")
    box = page.locator(".distance b").bounding_box()
    assert box["width"] > 2 * box["height"]


def test_each_step_of_the_check_is_in_sight_on_a_small_phone_whatever_waits(device, plan, tmp_path):
    phone = device(microphone=sounds.sound_check(tmp_path / "check.wav"), viewport={"width": 360, "height": 740})
    page = phone.sign_in("pim")
    phone.open("/today/set-up/")
    step_ends, ground_begins = page.wait_for_function(LAST_STEP_AND_GROUND, polling=50).json_value()
    assert step_ends <= ground_begins


def test_a_second_window_says_where_the_first_one_is(device, plan, tmp_path):
    phone = device(microphone=sounds.played([(67, "mf")], tmp_path / "horn.wav"))
    phone.sign_in("pim")
    phone.open("/today/play/")
    expect(phone.page.locator("[data-do=start]")).to_be_visible()
    second = phone.context.new_page()
    second.goto(phone.site + "/today/play/")
    expect(second.locator("h1:visible")).to_have_text(["You are playing in another window"])


def test_the_level_is_weighted_as_the_standard_says(device, plan):
    phone = device()
    phone.sign_in("pim")
    filters = call(phone, "levels", "return m.kWeighting(48000)")
    for name, (forward, back) in K_WEIGHTING_48_KHZ.items():
        assert filters[name]["forward"] == pytest.approx(forward, abs=2e-5)
        assert filters[name]["back"] == pytest.approx(back, abs=2e-7)


QUIET = {"db": -75.0, "peak": 0.001, "overshootDb": 0.0}
EASY = {"db": -26.0, "peak": 0.2, "overshootDb": 0.3}
LOUD = {"db": -15.0, "peak": 0.6, "overshootDb": 0.3}
SOFT = {"db": -40.0, "peak": 0.05, "overshootDb": 0.3}


@pytest.mark.parametrize(
    ("step", "read", "trouble"),
    [
        ("quiet", {"quiet": QUIET}, None),
        ("quiet", {"quiet": {**QUIET, "db": -40.0}}, "room_loud"),
        ("easy", {"quiet": QUIET, "easy": EASY}, None),
        ("easy", {"quiet": QUIET, "easy": {**EASY, "db": -55.0}}, "too_far"),
        ("easy", {"quiet": {**QUIET, "db": -48.0}, "easy": EASY}, "room_loud"),
        ("loudest", {"quiet": QUIET, "easy": EASY, "loudest": {**LOUD, "peak": 1.0}}, "too_close"),
        ("loudest", {"quiet": QUIET, "easy": EASY, "loudest": {**LOUD, "db": -26.0}}, "not_louder"),
        ("softest", {"quiet": QUIET, "easy": EASY, "loudest": LOUD, "softest": {**SOFT, "db": -25.0}}, "not_softer"),
    ],
)
def test_one_cause_is_told_at_a_time(modules, step, read, trouble):
    assert call(modules, "sound_check", "return m.troubleAfter(a[0], a[1])", step, read) == trouble


@pytest.mark.parametrize(
    ("microphone", "soft", "overshoot_db", "told"),
    [
        ({"autoGainControl": False}, -40.0, 0.3, "off"),
        ({"autoGainControl": True}, -40.0, 0.3, "on"),
        ({}, -40.0, 0.3, "unknown"),  # a key that is missing is unknown, not off
        ({"autoGainControl": False}, -20.0, 0.3, "suspected"),  # soft and loud hardly differ
        ({"autoGainControl": False}, -40.0, 4.0, "suspected"),  # starts stand over their own bodies
    ],
)
def test_the_phones_own_volume_help_is_found_out(modules, microphone, soft, overshoot_db, told):
    heard = {"easy": EASY, "loudest": LOUD, "softest": {**SOFT, "db": soft}}
    read = {name: {**one, "overshootDb": overshoot_db} for name, one in heard.items()}
    assert call(modules, "sound_check", "return m.volumeHelp(a[0], a[1])", read, microphone) == told


@pytest.fixture(scope="module")
def modules(browser):
    """A page that can load the site's modules, without a site: they are read from the folder."""
    page = browser.new_page()
    page.route("**/*", _from_the_folder)
    page.goto("http://modules.test/")
    yield Device(page.context, page, "http://modules.test")
    page.context.close()


def _from_the_folder(route) -> None:
    name = route.request.url.split("/")[-1]
    if name:
        folder = ROOT / "assignments" / "static" / "assignments"
        route.fulfill(path=folder / name, content_type="text/javascript")
    else:
        route.fulfill(body="<title>modules</title>", content_type="text/html")
