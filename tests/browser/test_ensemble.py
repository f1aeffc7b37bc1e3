"""A unison for two horns: set by the teacher, read and recorded by a student, put together on the teacher's page."""

from __future__ import annotations

import pytest
from playwright.sync_api import Page, expect

from analysis.synthesis import Faults, ToneSpec, render, write
from assignments import plans
from assignments.models import Exercise, Take
from tests import builders, people
from tests.browser import day, sounds
from tests.browser.conftest import LAPTOP
from tests.unit.ensemble_cast import send

LISTEN = """() => {
  window.started = [];
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (...when) {
    const peak = this.buffer.getChannelData(0).reduce((most, one) => Math.max(most, one), 0);
    window.started.push({ at: when[0], from: when[1], peak });
    return start.apply(this, when);
  };
}"""


@pytest.fixture
def pair(site):
    """Pim on alto and Rufus on tenor, each with a week that is played quickly."""
    studio = people.studio()
    teacher = people.teacher(studio).user
    horns = [people.horn(studio), people.horn(studio, "Rufus Tarn", "tenor")]
    for horn in horns:
        builders.week(horn, teacher, beats_per_minute=day.QUICK)
        plans.plan_for(horn, studio.today())  # opened before anything was set: it comes all the same
    return horns


def set_unison(page: Page) -> None:
    """Makes a duo and sets it B♭3, as somebody at a desk does."""
    page.click("text=Ensembles")
    page.click("text=Make an ensemble")
    page.fill("[name=name]", "Quay Duo")
    seats = page.locator("[name=seats]")
    seats.nth(0).select_option(label="Pim Larkspur, alto")
    seats.nth(1).select_option(label="Rufus Tarn, tenor")
    page.get_by_role("button", name="Keep it").click()
    page.get_by_role("link", name="Set a unison or a chord").click()
    page.select_option("[name=root]", label="B♭2")  # too low for a player with an alto …
    page.get_by_role("button", name="Give each seat a note").click()
    expect(page.locator(".field-error")).to_contain_text("too low for Pim’s alto")
    page.select_option("[name=root]", label="B♭3")
    page.get_by_role("button", name="Give each seat a note").click()
    expect(page.locator("[name=notes]").nth(0).locator("option:checked")).to_have_text("B♭3, written G4")
    expect(page.locator("[name=notes]").nth(1).locator("option:checked")).to_have_text("B♭3, written C5")
    page.get_by_role("button", name="Set it").click()
    expect(page.locator("h1")).to_contain_text("Unison")


def record(phone) -> None:  # type: ignore[no-untyped-def]  # a Device
    """Pim finds the note in the day, reads it, and plays it into the phone."""
    page = phone.open("/today/")
    row = page.locator(".row", has_text="With your section")
    expect(row).to_contain_text("play written G4")
    row.get_by_role("link").click()
    expect(page.locator(".stave")).to_have_attribute("aria-label", "On the stave, written: G 4.")
    sounding = page.locator("details", has_text="What it sounds")
    expect(sounding.locator("p")).to_be_hidden()
    sounding.locator("summary").click()
    expect(sounding.locator("p")).to_contain_text("sounds B♭")
    expect(page.locator("main")).not_to_contain_text("Rufus")
    page.click("text=Set up and start")
    page.click("text=Play without the check")
    page.click("[data-do=start]")
    page.wait_for_url("**/exercises/*/", timeout=40_000)


def test_a_unison_is_set_read_recorded_and_heard_together(device, pair, tmp_path):
    desk = device(viewport=LAPTOP)
    set_unison(desk.sign_in("marisa"))
    expect(desk.page.locator("main")).to_contain_text("0 of 2 have sent it.")

    phone = device(microphone=sounds.played([(67, "mf")], tmp_path / "horn.wav", beats_per_minute=day.QUICK))
    phone.sign_in("pim")
    record(phone)
    day.wait(phone.page, lambda: Take.objects.filter(exercise__part__horn=pair[0]).exists())
    low = ToneSpec(written_midi=72, seconds=3.0, faults=Faults(cents=-25.0))
    tone = render([low], "tenor", seed=4)[0]  # in a file larger than what a page decodes to play it alone
    write(tmp_path / "tenor.wav", (sounds.quiet(30.0), tone), "wav")
    theirs = Exercise.objects.get(part__horn=pair[1])
    send(theirs, pair[1].studio.today(), (tmp_path / "tenor.wav").read_bytes())
    day.wait(desk.page, lambda: Take.objects.filter(settled_at__isnull=False).count() == 2)

    desk.page.reload()
    expect(desk.page.locator("main")).to_contain_text("2 of 2 have sent it.")
    expect(desk.page.locator(".voice")).to_have_count(2)
    expect(desk.page.locator("main")).to_contain_text("cents apart: Rufus lies lowest, Pim highest.")
    desk.page.evaluate(LISTEN)
    together = desk.page.locator("[data-hear-together]")
    together.click()
    expect(together).to_have_attribute("aria-pressed", "true")
    expect(together).to_have_attribute("aria-pressed", "false", timeout=20_000)
    started = desk.page.evaluate("window.started")
    assert len(started) == 2
    assert started[0]["at"] == started[1]["at"]  # the same instant, each from where its own tone begins
    assert [one["from"] > 29 for one in sorted(started, key=lambda one: one["from"])] == [False, True]
    assert [one for one in started if one["peak"] <= 0.001] == []
