"""What a student's day weighs on the line: the first look at Today, and the recordings of five minutes."""

from __future__ import annotations

import json
import os
import secrets
from pathlib import Path

import numpy as np
import pytest
from playwright.sync_api import expect

from analysis.synthesis import SAMPLE_RATE_HZ, write
from assignments.models import DayPlan, Take, Week
from tests import builders, people
from tests.browser import day, sounds
from tests.browser.conftest import PHONE
from tests.faults.serving import Serving, run_manage

FIRST_LOAD_BYTES = 120_000
USABLE_WITHIN_MS = 5000
SLOW_3G = {"offline": False, "latency": 400, "downloadThroughput": 400_000 / 8, "uploadThroughput": 400_000 / 8}
DAY_BYTES = 4_000_000
WHEN_PAINTED = """() => new Promise((done) => new PerformanceObserver((list) => {
  const [first] = list.getEntriesByName('first-contentful-paint');
  if (first) done(first.startTime);
}).observe({ type: 'paint', buffered: true }))"""
SIGN_IN = """
from django.test import Client
from studio.models import User
client = Client()
client.force_login(User.objects.get(username="pim"))
print([*client.cookies.values()][0].key, [*client.cookies.values()][0].value)
"""


@pytest.fixture
def public_site(var: Path):
    """A production site on this machine, as its proxy sees it, and Pim's cookie."""
    settings = {
        "FOOTING_MODE": "production",
        "FOOTING_SECRET_KEY": secrets.token_urlsafe(64),
        "FOOTING_ORIGINS": "https://tones.example.org",
        "FOOTING_TRUSTED_PROXY": "127.0.0.1",
        "REDIS_URL": os.environ["REDIS_URL"],
    }
    run_manage("demo_studio", var=var, **settings).check_returncode()
    name, value = run_manage("shell", "-c", SIGN_IN, var=var, **settings).stdout.split()[-2:]
    serving = Serving(var, **settings)
    serving.wait_until_ready()
    yield serving, {"name": name, "value": value, "url": f"https://127.0.0.1:{serving.port}", "secure": True}
    serving.end()


def test_the_first_look_at_today_is_light_and_soon_usable_on_a_slow_line(browser, public_site):
    serving, cookie = public_site
    headers = {"X-Forwarded-Proto": "https"}
    context = browser.new_context(viewport=PHONE, service_workers="block", extra_http_headers=headers)
    context.add_cookies([cookie])
    page = context.new_page()
    line = context.new_cdp_session(page)
    line.send("Network.enable")
    line.send("Network.emulateNetworkConditions", SLOW_3G)
    received: list[float] = []
    line.on("Network.loadingFinished", lambda event: received.append(event["encodedDataLength"]))
    page.goto(f"{serving.address}/today/", wait_until="commit")
    expect(page.get_by_role("link", name="Set up and start")).to_be_visible(timeout=30_000)
    painted_ms = page.evaluate(WHEN_PAINTED)
    page.wait_for_load_state("networkidle")
    print(json.dumps({"bytes": sum(received), "requests": len(received), "usable_ms": painted_ms}))
    assert 20_000 < sum(received) <= FIRST_LOAD_BYTES
    assert painted_ms <= USABLE_WITHIN_MS
    context.close()


@pytest.mark.parametrize(("tempo", "low_data"), [(60, False), (50, False), (50, True)])
def test_five_minutes_weigh_four_megabytes_at_most_whatever_is_played(device, site, tmp_path, tempo, low_data):
    studio = people.studio()
    horn = people.horn(studio)
    week = builders.week(horn, people.teacher(studio).user, beats_per_minute=tempo)
    DayPlan.objects.create(
        horn=horn,
        week=week,
        on=studio.today(),
        tones=[{"written_midi": 67, "tone": "fff", "lane": "coverage", "why": "oldest"}],
    )
    noise = np.random.default_rng(5).uniform(-0.9, 0.9, 30 * SAMPLE_RATE_HZ)  # nothing is harder to pack
    count_in = sounds.quiet(240 / tempo)
    write(tmp_path / "noise.wav", np.concatenate([count_in, noise.astype(np.float32)]), "wav")
    phone = device(microphone=tmp_path / "noise.wav")
    phone.sign_in("pim")
    phone.page.evaluate("low => localStorage.setItem('footing-low-data', low ? '1' : '0')", low_data)
    day.play(phone.page, phone.site)
    day.wait(phone.page, Take.objects.exists)
    assert Week.objects.get().beats_per_minute == tempo
    day_bytes = 20 * Take.objects.get().analysis.audio_bytes
    print(json.dumps({"tempo": tempo, "low_data": low_data, "day_bytes": day_bytes}))
    assert 200_000 < day_bytes <= (DAY_BYTES / 2 if low_data else DAY_BYTES) * (60 / tempo if low_data else 1)
