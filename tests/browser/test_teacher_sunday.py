"""A teacher's Sunday, a lesson and a request, one after another, on a laptop and on a phone."""

from __future__ import annotations

import datetime as dt
import re

import pytest
from django.conf import settings
from playwright.sync_api import expect

from assignments import standings, targets
from assignments.models import Agenda, EarAnswer, GateRule, PaperDay, Week
from tests import builders, people, played
from tests.browser.conftest import LAPTOP, PHONE
from tests.browser.test_teacher_path import TONE_S, TONES, a_sound, fits

pytestmark = pytest.mark.django_db(transaction=True)

DAY = dt.timedelta(days=1)


@pytest.fixture
def ready(site):
    """Pim has met the rule and missed one tone since; Ada's week is over."""
    studio = people.studio()
    teacher = people.teacher(studio).user
    pim, ada = people.horn(studio), people.horn(studio, "Ada Fenn")
    today = studio.today()
    week = played.long_week(pim, teacher)
    played.good_days(week, today - 2 * DAY, 9, audio=None)
    played.day(week, today - DAY, TONES, missed={(73, "mf")}, audio=a_sound(), tone_s=TONE_S)
    builders.week(ada, teacher, on=today - 8 * DAY, focus="even swells")
    return pim, ada


def sunday(page, pim, ada):
    """Last week again for whoever has none; then a rule is tried, and taken."""
    page.get_by_role("link", name="Set everyone’s week, or a pause").click()
    expect(page.get_by_role("checkbox", name="Ada Fenn")).to_be_checked()
    expect(page.get_by_role("checkbox", name="Pim Larkspur")).not_to_be_checked()
    fits(page)
    page.get_by_role("button", name="Copy last week").click()
    expect(page.get_by_role("status").first).to_contain_text("Given to 1 student")
    assert [week.focus for week in Week.objects.filter(horn=ada)] == ["even swells", "even swells"]

    page.goto(page.url.split("/studio/")[0] + f"/studio/students/{ada.pk}/rule/")
    told = page.locator("#foreseen")
    expect(told).to_contain_text("within a term in 2 of 100 cases")
    page.get_by_label("Opens with so many days on target").select_option("7")
    expect(told).to_contain_text("within a term in 5 of 100 cases", timeout=15_000)
    expect(told).to_contain_text("The rule that holds now")
    fits(page)
    page.get_by_role("button", name="Take this rule").click()
    expect(page.get_by_text("Marisa changed the rule for this student").first).to_be_visible()
    assert GateRule.objects.get().chosen["opens_at"] == 7


def lesson(page, pim):
    """An agenda is kept, a verdict agreed with, a target moved, a day noted from paper, a note written."""
    page.goto(page.url.split("/studio/")[0] + f"/studio/students/{pim.pk}/")
    agenda(page)
    page.get_by_role("button", name="I agree").first.click()
    expect(page.get_by_role("button", name="I agree").first).to_have_attribute("aria-pressed", "true")
    assert EarAnswer.objects.get().blind is False
    page.locator("summary", has_text="Days on paper").click()
    page.locator("[name=days]").first.check()
    with page.expect_navigation():
        page.get_by_role("button", name="Keep these days").click()
    expect(page.locator("[name=days]").first).to_be_checked()
    assert PaperDay.objects.get().on == pim.studio.today()
    page.get_by_label("What did you hear together?").fill("The break is even now.")
    page.get_by_role("button", name="Keep the note").click()
    expect(page.get_by_text("The break is even now.")).to_be_visible()
    fits(page)
    page.get_by_role("link", name="Change a target").click()
    page.get_by_label("New limit").fill("25")
    page.get_by_role("button", name="Move it").click()
    expect(page.get_by_role("heading", name="Pitch, off by at most: 25 cents")).to_be_visible()
    fits(page)
    assert targets.held(pim, pim.studio.today()).pitch_cents == 25.0


def agenda(page):
    """What is proposed is put in another order, one point is left out and one written; and back."""
    page.get_by_role("link", name="Agenda of the lesson").click()
    expect(page.get_by_role("heading", level=1)).to_contain_text("For the lesson on")
    lines = page.locator("[name=text]")
    expect(lines.nth(0)).to_have_value("The rule is met for overtones to 3: hear six tones, then answer.")
    expect(lines.nth(1)).to_have_value(re.compile("^C♯5 mf: The pitch climbs"))
    page.get_by_label("Place of point 1").fill("9")
    page.get_by_label("One more").fill("Sing the fifth, then play it.")
    fits(page)
    page.get_by_role("button", name="Keep the agenda").click()
    expect(page.get_by_text("Kept by Marisa Oakhanger")).to_be_visible()
    points = Agenda.objects.get().points
    assert points[0].startswith("C♯5 mf")
    assert points[-2].startswith("The rule is met")
    assert points[-1] == "Sing the fifth, then play it."
    page.emulate_media(media="print")
    expect(page.get_by_role("button", name="Keep the agenda")).to_be_hidden()
    expect(page.get_by_role("listitem").filter(has_text="Sing the fifth").first).to_be_visible()
    page.emulate_media(media="screen")
    page.get_by_role("link", name="Pim Larkspur").first.click()


def request_answered(page, pim):
    """Six tones, then yes."""
    page.goto(page.url.split("/studio/")[0] + f"/studio/students/{pim.pk}/decide/")
    page.wait_for_load_state()
    page.locator("[data-number='1']").focus()
    for number in range(1, 7):
        page.keyboard.press(str(number))
        expect(page.locator(f"#tone-{number} [data-state]")).to_have_text("Heard", timeout=10_000)
    page.get_by_role("button", name="Yes, open overtones to 3").click()
    expect(page.get_by_text("Marisa listened and said yes").first).to_be_visible()
    fits(page)
    assert standings.is_open(pim, 1, pim.studio.today())


@pytest.mark.parametrize("viewport", [LAPTOP, PHONE], ids=["laptop", "phone"])
def test_a_sunday_a_lesson_and_a_request(device, ready, viewport):
    pim, ada = ready
    page = device(viewport=viewport).sign_in("marisa")
    sunday(page, pim, ada)
    lesson(page, pim)
    request_answered(page, pim)


def test_without_scripts_a_rule_is_tried_by_a_button(device, ready):
    _pim, ada = ready
    off = device(viewport=PHONE, java_script_enabled=False)
    page = off.sign_in("marisa")
    off.open(f"/studio/students/{ada.pk}/rule/")
    page.get_by_label("Opens with so many days on target").select_option("7")
    page.get_by_role("button", name="What would it do?").click()
    expect(page.locator("#foreseen")).to_contain_text("within a term in 5 of 100 cases")
    assert not GateRule.objects.exists()


def test_enter_in_a_field_chooses_none_of_the_three(device, ready):
    here = device(viewport=PHONE)
    page = here.sign_in("marisa")
    here.open("/studio/weeks/")
    here.expected.append("400 (Bad Request)")
    before = Week.objects.count()
    page.get_by_label("This week, in a word or two").fill("soft starts")
    page.get_by_label("This week, in a word or two").press("Enter")
    expect(page.get_by_role("alert")).to_have_text("Nothing was given yet. Press the button of what you mean.")
    expect(page.get_by_label("This week, in a word or two")).to_have_value("soft starts")
    assert Week.objects.count() == before


def test_ticking_for_somebody_else_leaves_what_was_written(device, ready):
    here = device(viewport=PHONE)
    page = here.sign_in("marisa")
    here.open("/studio/weeks/")
    words = page.get_by_label("This week, in a word or two")
    pim, ada = (page.get_by_role("checkbox", name=name) for name in ("Pim Larkspur", "Ada Fenn"))
    words.fill("soft starts")
    page.get_by_role("link", name="everybody").click()
    expect(pim).to_be_checked()
    page.get_by_role("link", name="whose week is over").click()
    expect(pim).not_to_be_checked()
    expect(ada).to_be_checked()
    page.get_by_role("link", name="nobody").click()
    expect(ada).not_to_be_checked()
    expect(words).to_have_value("soft starts")


def test_whoever_was_signed_out_is_told_that_a_rule_could_not_be_tried(device, ready):
    _pim, ada = ready
    here = device(viewport=PHONE)
    page = here.sign_in("marisa")
    here.open(f"/studio/students/{ada.pk}/rule/")
    page.context.clear_cookies(name=settings.SESSION_COOKIE_NAME)
    page.get_by_label("Opens with so many days on target").select_option("7")
    expect(page.locator("#foreseen")).to_contain_text("It could not be tried just now.")
    expect(page.locator("#foreseen form")).to_have_count(0)
