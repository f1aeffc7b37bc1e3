"""The plain way in: a chosen file, with scripts switched off."""

from __future__ import annotations

import re

from playwright.sync_api import expect

from assignments.models import DayPlan, Take
from tests import builders, people
from tests.browser import sounds

TONES = ((67, "mf"), (60, "f"))


def student():
    studio = people.studio()
    horn = people.horn(studio)
    week = builders.week(horn, people.teacher(studio).user)
    tones = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": "oldest"} for midi, tone in TONES]
    DayPlan.objects.create(horn=horn, week=week, on=studio.today(), tones=tones)


def test_a_chosen_file_is_sent_measured_and_shown_with_scripts_off(device, tmp_path):
    student()
    recording = sounds.played(TONES, tmp_path / "memo.wav")
    phone = device(java_script_enabled=False)
    page = phone.sign_in("pim")
    page.click("text=Send a recording you made elsewhere")
    page.set_input_files("[name=chosen]", recording)
    page.click("text=Send it")
    marks = page.locator(".heard-tone").get_by_text("on target")
    expect(marks).to_have_count(2, timeout=120_000)  # the page asks again by itself
    expect(page.locator("h1")).to_have_text("Daily tones")
    expect(page.get_by_role("link", name=re.compile("^Hear")).first).to_have_attribute("href", re.compile(r"/audio#t="))
    assert Take.objects.count() == 1


def test_sending_without_a_file_says_what_is_missing(device):
    student()
    phone = device(java_script_enabled=False)
    phone.expected.append("status of 400")
    page = phone.sign_in("pim")
    page.click("text=Send a recording you made elsewhere")
    page.click("text=Send it")
    expect(page.get_by_role("alert")).to_contain_text("Choose one recording, then send it.")
