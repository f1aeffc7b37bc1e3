"""A teacher's path: a week is set, a request is answered by ear, and what was shut opens."""

from __future__ import annotations

import datetime as dt

import pytest
from playwright.sync_api import expect

from assignments import standings
from assignments.models import Decision, Exercise, Hearing, Opening, Week
from tests import people, played, sine
from tests.browser.conftest import LAPTOP, PHONE

pytestmark = pytest.mark.django_db(transaction=True)

DAY = dt.timedelta(days=1)
TONE_S = 0.8
TONES = (*played.EVERY_NOTE, (58, "p"), (90, "f"), (70, "swell"))


def a_sound(seconds: float = 2.0, rate_hz: int = 16_000) -> bytes:
    return sine.sound(seconds, rate_hz)


@pytest.fixture
def cast(site):
    studio = people.studio()
    return people.teacher(studio).user, people.horn(studio)


@pytest.fixture
def ready(cast):
    """The student has met the rule."""
    teacher, horn = cast
    week = played.long_week(horn, teacher)
    today = horn.studio.today()
    played.good_days(week, today - 2 * DAY, 9, audio=None)
    played.day(week, today - DAY, TONES, audio=a_sound(), tone_s=TONE_S)
    return horn


def fits(page):
    """Nothing scrolls sideways."""
    assert page.evaluate("document.documentElement.scrollWidth <= document.documentElement.clientWidth")


def open_student(page, name="Pim Larkspur"):
    page.get_by_role("link", name=name, exact=True).first.click()
    expect(page.get_by_role("heading", level=1)).to_contain_text(name)


@pytest.mark.parametrize("viewport", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_week_is_set_from_a_ready_made_routine(device, cast, viewport):
    page = device(viewport=viewport).sign_in("marisa")
    expect(page.get_by_role("heading", level=1)).to_have_text("Nothing needs your ear today")
    fits(page)
    open_student(page)
    page.get_by_role("link", name="Set the first week").click()
    page.get_by_label("Routine").select_option(label="Ground, then overtones")
    page.get_by_role("button", name="Use it").click()
    expect(page.get_by_text("Shut: Overtones to the third partial")).to_be_visible()
    expect(page.get_by_role("checkbox", name="Overtones to the third partial")).to_have_count(0)
    fits(page)
    page.get_by_label("10 min, 40 tones").check()
    page.get_by_label("This week, in a word or two").fill("clean starts")
    page.locator("summary", has_text="C sharp 5").click()
    page.locator("[value='73-pp']").check()
    page.get_by_role("button", name="Give Pim this week").click()
    expect(page.get_by_text("10 minutes a day")).to_be_visible()
    week = Week.objects.get()
    assert (week.budget_minutes, week.focus, week.pins) == (10, "clean starts", [{"written_midi": 73, "tone": "pp"}])
    assert [exercise.kind for exercise in week.exercises.all()] == ["daily_tones", "evenness_run"]


def test_a_shut_block_is_refused_by_the_server_whatever_the_page_sends(device, cast):
    _teacher, horn = cast
    teacher = device(viewport=LAPTOP)
    teacher.expected.append("403")
    page = teacher.sign_in("marisa")
    teacher.open(f"/studio/students/{horn.pk}/week/")
    page.evaluate(
        """() => {
            const forced = Object.assign(document.createElement("input"), {name: "blocks", value: "overtones_third"});
            document.getElementById("week").append(forced);
        }"""
    )
    page.get_by_role("button", name="Give Pim this week").click()
    expect(page.get_by_role("alert")).to_contain_text("is shut until the foundation stands")
    assert not Week.objects.exists()


@pytest.mark.parametrize("viewport", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_six_tones_are_heard_then_yes_opens_and_overtones_can_be_set(device, ready, viewport):
    page = device(viewport=viewport).sign_in("marisa")
    expect(page.get_by_role("heading", level=1)).to_have_text("One student asks you to listen")
    with page.expect_navigation():  # and its scripts: keys and the held-back yes are theirs
        page.get_by_role("link", name="six tones" if viewport == LAPTOP else "Hear 6").click()
    yes = page.get_by_role("button", name="Yes, open overtones to 3")
    expect(yes).to_have_attribute("aria-disabled", "true")
    fits(page)
    yes.click(force=True)
    assert not Decision.objects.exists()

    page.locator("[data-number='1']").focus()
    for number in range(1, 7):
        page.keyboard.press(str(number))
        expect(page.locator(f"#tone-{number} [data-state]")).to_have_text("Heard", timeout=10_000)
    assert Hearing.objects.filter(about_try__isnull=False).count() == 6
    expect(page.locator("#left")).to_have_text("All heard.")
    expect(yes).not_to_have_attribute("aria-disabled", "true")

    page.get_by_label("Words for Pim, with your answer").fill("The low notes carry you now.")
    yes.click()
    expect(page.get_by_text("Marisa listened and said yes: Overtones to the third partial.")).to_be_visible()
    assert Opening.objects.get().opened_on == ready.studio.today()
    assert standings.is_open(ready, 1, ready.studio.today())

    page.goto(page.url.replace("/gate/", "/week/"))
    page.get_by_label("Routine").select_option(label="Ground, then overtones")
    page.get_by_role("button", name="Use it").click()
    expect(page.get_by_role("checkbox", name="Overtones to the third partial")).to_be_checked()
    page.get_by_role("button", name="Give Pim this week").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("Pim Larkspur")
    assert Exercise.objects.filter(kind="overtones_third", week__horn=ready).exists()


def test_the_student_reads_the_answer_with_the_teachers_name(device, ready):
    page = device(viewport=LAPTOP).sign_in("marisa")
    with page.expect_navigation():
        page.get_by_role("link", name="six tones").click()
    page.get_by_label("Words for Pim, with your answer").fill("The swell still jumps. Four even steps first.")
    page.locator("[data-number='1']").focus()
    page.keyboard.press("n")
    expect(page.get_by_text("Marisa listened and said not yet")).to_be_visible()
    student = device().sign_in("pim")
    student.get_by_role("link", name="High notes").first.click()
    expect(student.get_by_text("The swell still jumps. Four even steps first.")).to_be_visible()
    expect(student.get_by_text("Marisa").first).to_be_visible()


def test_a_moment_is_two_taps_from_the_overview(device, cast):
    teacher, horn = cast
    today = horn.studio.today()
    around = ((72, "mf"), (73, "mf"), (74, "mf"))
    played.day(
        played.long_week(horn, teacher), today - DAY, around, missed={(73, "mf")}, audio=a_sound(), tone_s=TONE_S
    )
    page = device().sign_in("marisa")
    page.get_by_role("link", name="Hear 1").click()
    here = page.get_by_role("link", name="Here C sharp 5, medium")
    here.click()
    expect(here).to_have_attribute("aria-pressed", "true")
    page.get_by_text("Numbers").click()
    expect(page.get_by_text("22.0 cents")).to_be_visible()
    page.get_by_text("Pin a word here").click()
    page.get_by_label("Words for this moment").fill("Warm air, as if you fog a window.")
    page.get_by_role("button", name="Pin it").click()
    expect(page.get_by_text("Warm air, as if you fog a window.")).to_be_visible()


def test_with_scripts_off_hearing_and_answering_still_work(device, ready):
    off = device(viewport=LAPTOP, java_script_enabled=False)
    page = off.sign_in("marisa")
    with page.expect_navigation():
        page.get_by_role("link", name="six tones").click()
    address = page.url
    for number in range(1, 7):
        page.locator(f"[data-number='{number}']").click(no_wait_after=True)
        page.wait_for_url("**/audio")
        page.goto(address)
    page.get_by_role("button", name="Yes, open overtones to 3").click()
    expect(page.get_by_text("Marisa listened and said yes")).to_be_visible()
