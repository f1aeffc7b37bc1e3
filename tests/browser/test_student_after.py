"""After, while it is being measured: what stands in the ground moves with what was heard."""

from __future__ import annotations

from django.utils import timezone
from playwright.sync_api import expect

from analysis.models import Analysis
from assignments.models import DayPlan, Take, Try
from tests import people, played

TONES = ((67, "mf"), (73, "pp"), (60, "f"))


def test_the_ground_moves_with_what_was_heard_and_one_button_is_bright(device, site):
    studio = people.studio()
    horn = people.horn(studio)
    week = played.long_week(horn, people.teacher(studio).user)
    asked = [{"written_midi": midi, "tone": tone, "lane": "coverage", "why": "oldest"} for midi, tone in TONES]
    DayPlan.objects.create(horn=horn, week=week, on=studio.today(), tones=[*asked, asked[0]])
    tries = played.day(week, studio.today(), TONES, missed={TONES[1]}, unreadable={TONES[2]})
    take = tries[2].take
    take.tries.all().delete()
    Take.objects.filter(pk=take.pk).update(settled_at=None)
    Analysis.objects.filter(pk=take.analysis_id).update(state=Analysis.State.RUNNING)
    phone = device()
    phone.sign_in("pim")
    phone.open("/after/")
    band = phone.page.locator(".band")
    expect(phone.page.locator("#heard")).to_contain_text("I’m still listening to 1 tone.")
    expect(band.locator(".act")).to_have_text("Go on One tone to go")
    expect(band).not_to_contain_text("Play that one again")
    Try.objects.bulk_create([tries[2]])
    Take.objects.filter(pk=take.pk).update(settled_at=timezone.now())
    Analysis.objects.filter(pk=take.analysis_id).update(state=Analysis.State.MEASURED)
    expect(band).to_contain_text("Play that one again", timeout=30_000)
    expect(phone.page.locator(".brass")).to_have_text(["Hear it"])
