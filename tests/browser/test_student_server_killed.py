"""The studio's computer is killed while somebody plays, and started again: twenty takes, once each."""

from __future__ import annotations

import json
import signal
from pathlib import Path

import pytest
from playwright.sync_api import expect

from tests.browser import day
from tests.browser.conftest import Device, listening
from tests.faults.serving import Serving, gone, run_manage

TWENTY = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": "oldest"} for midi, tone in day.TONES]
LAY = f"""
from assignments import plans
from assignments.models import DayPlan, Week
from studio.models import Horn, User
horn = Horn.objects.filter(player__user__username="pim").get()
plan = plans.plan_for(horn, horn.studio.today())
Week.objects.filter(horn=horn).update(beats_per_minute={day.QUICK})
DayPlan.objects.filter(pk=plan.pk).update(tones={TWENTY!r})
user = User.objects.get(username="pim")
user.set_password("a-tone-a-day")
user.save()
"""
COUNT = """
import json
from assignments.models import Take
from studio.models import Horn
horn = Horn.objects.get(player__user__username="pim")
today = Take.objects.filter(horn=horn, on=horn.studio.today())
print(json.dumps(sorted(slot["slot"] for take in today for slot in take.asked)))
"""


@pytest.fixture
def var(var: Path) -> Path:
    """A data folder with the invented studio in it, and Pim's twenty tones for today."""
    for command in (("demo_studio",), ("shell", "-c", LAY)):
        done = run_manage(*command, var=var)
        assert done.returncode == 0, done.stderr
    return var


def received(var: Path) -> list[int]:
    answer = run_manage("shell", "-c", COUNT, var=var)
    places: list[int] = json.loads(answer.stdout.strip().splitlines()[-1])
    return places


def test_a_studio_that_is_killed_and_started_again_has_twenty_takes_once_each(driver, browser, var, tmp_path):
    serving = Serving(var)
    serving.wait_until_ready()
    with listening(driver, browser, day.sound(tmp_path / "horn.wav"), serving.address) as phone:
        phone.expected.append("net::ERR_CONNECTION")
        phone.sign_in("pim")
        day.play(phone.page, phone.site)
        expect(tone(phone, 5)).to_be_visible(timeout=60_000)
        everybody = serving.everybody()
        serving.process.send_signal(signal.SIGKILL)
        serving.process.wait(10)
        assert gone(everybody, 30) == []
        expect(tone(phone, 11)).to_be_visible(timeout=60_000)  # playing goes on
        again = Serving(var, port=serving.port)
        again.wait_until_ready()
        try:
            expect(phone.page.locator("body[data-phase=done], body:has(.heard-tone)")).to_be_visible(timeout=60_000)
            day.wait(phone.page, lambda: len(received(var)) >= 20, 90)
            assert received(var) == list(range(20))
        finally:
            again.end()


def tone(phone: Device, place: int):  # type: ignore[no-untyped-def]  # playwright's locator
    return phone.page.locator(".tone").nth(place)
