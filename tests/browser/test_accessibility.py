"""Every page that the site has, looked through by axe-core in the browser, by day and by night."""

from __future__ import annotations

from importlib.resources import files
from urllib.parse import urlsplit

import pytest
from django.conf import settings as site_settings
from django.template.loader import render_to_string
from django.test import Client
from django.urls import reverse
from playwright.sync_api import Page, expect

from studio import devices, invitations
from studio.invitations import Whom
from studio.models import Membership
from tests import people
from tests.browser import day
from tests.unit.access_world import ROLES, World, routes
from tests.unit.second_steps import turned_on
from tests.unit.test_access_matrix import visible

AXE = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
RUN = """async () => (await axe.run()).violations.flatMap(
  (one) => one.nodes.map((node) => `${one.id}: ${node.target} ${node.failureSummary}`))"""
ERRORS = ("400.html", "403.html", "403_csrf.html", "404.html", "500.html")
ASKED_BY_POST = {  # routes that show no page of their own
    *("sign-out", "end_device", "lesson_note", "note", "comment", "heard", "ear_answer", "copy_of_everything"),
    *("turn_to", "take_up", "language", "take_word_back", "delete_demonstration"),
    *("take_chord_back", "revoke_code", "milestone", "home_code", "slip_code", "paper", "agree", "api-sound-check"),
}
FOR_PROGRAMS = {  # and what only sends on
    "home",
    "at_home",
    "support-login",
    "alive",
    "ready",
    "api-schema",
    "service_worker",
    "shared_files",
    "take_audio",
    "demonstration_audio",
    "voice_audio",
    "numbers",
    "metrics",
    "practice_card_pdf",
    "month_pdf",
    "calendar_feed",
}
OTHER_PHASES = """async (phase) => (await import('/static/assignments/phases.js')).to(phase)"""
PHASES = (
    *("asking", "checking", "room_loud", "too_far", "too_close", "not_allowed", "no_microphone", "cannot_record"),
    *(
        "ready",
        "paused",
        "hidden",
        "asleep",
        "lost",
        "broken",
        "full",
        "resting",
        "rested",
        "done",
        "all_played",
        "elsewhere",
    ),
    *("cannot_keep", "hurts"),
)


@pytest.fixture
def world(site, settings, tmp_path) -> World:
    settings.VAR, settings.MEDIA_ROOT = tmp_path, tmp_path / "takes"
    settings.MEDIA_ROOT.mkdir()
    settings.PUSH = True
    world = World()
    world.people["g"].memberships.get().wards.add(world.horns["o"].player)  # with two children there is one page more
    runs = (horn.weeks.latest("set_at").exercises.get(kind="evenness_run") for horn in world.horns.values())
    world.objects["exercise_id"] = [run.pk for run in runs]
    return world


def pages() -> list[str]:
    """Every route that shows people something, from the addresses themselves."""
    own = [name for name, _parameters in routes() if not name.startswith(("admin:", "api-"))]
    return [name for name in own if name not in ASKED_BY_POST | FOR_PROGRAMS] + ["api-page"]


def signed_in(world: World, role: str) -> Client:
    client = Client()
    if role != "a":
        client.force_login(world.people[role])
    return client


def shown(world: World) -> dict[str, tuple[str, str]]:
    """Of every page an address that shows it, and the first role that sees it."""
    sought, found = set(pages()), {}
    for role in ROLES:
        client = signed_in(world, role)
        for name, keys in visible(world, role):
            address = reverse(name, kwargs=keys)
            if name in sought - found.keys() and client.get(address).status_code == 200:
                found[name] = (address, role)
    return found


def violations(page: Page) -> list[str]:
    """By day and by night."""
    told: list[str] = []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme, reduced_motion="reduce")
        page.evaluate(AXE)
        told += [f"{scheme}: {one}" for one in page.evaluate(RUN)]
    return told


def enter(device, client: Client) -> None:  # type: ignore[no-untyped-def]  # the conftest's Device
    device.context.clear_cookies()
    cookie = client.cookies.get(site_settings.SESSION_COOKIE_NAME)
    if cookie:
        device.context.add_cookies([{"name": cookie.key, "value": cookie.value, "url": device.site}])


def test_every_page_is_shown_to_somebody(world):
    with_more_than_a_sign_in = {"whose_turn", "turn_of", "join_as", "sign_in_code"}  # a device, a code: see below
    assert set(pages()) - set(shown(world)) == with_more_than_a_sign_in


def test_no_page_of_anybody_has_a_barrier(device, world):
    phone, found = device(service_workers="block"), {}
    addresses = shown(world)
    for role in ROLES:
        enter(phone, signed_in(world, role))
        for name, (address, whose) in addresses.items():
            if whose == role:
                phone.open(address)
                found[name] = violations(phone.page)
    assert {name: told for name, told in found.items() if told} == {}


def test_no_error_page_has_a_barrier(device, site):
    phone, found = device(service_workers="block"), {}
    said = {f"/trouble/{name}": render_to_string(name) for name in ERRORS}
    phone.page.route(
        "**/trouble/*",
        lambda route: route.fulfill(body=said[urlsplit(route.request.url).path], content_type="text/html"),
    )
    for path in said:
        phone.open(path)
        found[path] = violations(phone.page)
    assert {name: told for name, told in found.items() if told} == {}


def test_no_phase_of_playing_has_a_barrier(device, site):
    day.student()
    phone = device()
    phone.sign_in("pim")
    phone.open("/today/play/")
    expect(phone.page.locator("[data-do=start]")).to_be_visible()
    found = {}
    for phase in PHASES:
        phone.page.evaluate(OTHER_PHASES, phase)
        found[phase] = violations(phone.page)
    phone.page.evaluate("document.querySelector('.tone').hidden = false")
    for phase in ("playing", "waiting"):
        phone.page.evaluate(OTHER_PHASES, phase)
        found[phase] = violations(phone.page)
    assert {name: told for name, told in found.items() if told} == {}


def test_a_shared_devices_pages_have_no_barrier(device, site):
    studio = people.studio()
    horn = people.horn(studio)
    _row, secret = devices.enrol(studio=studio, by=people.teacher(studio).user, name="tablet", players=[horn.player])
    phone = device(service_workers="block")
    phone.context.add_cookies([{"name": devices.cookie_name(), "value": secret, "url": phone.site}])
    for path in ("/whose-turn/", f"/whose-turn/{horn.player_id}/"):
        phone.open(path)
        assert phone.page.url.endswith(path)
        assert violations(phone.page) == []


def test_the_second_step_has_no_barrier(device, site):
    codes = turned_on(people.teacher(people.studio()).user)
    phone = device(service_workers="block")
    page = phone.open("/sign-in/")
    page.fill("[name=username]", "marisa")
    page.fill("[name=password]", people.PASSWORD)
    page.click("button.act")
    expect(page.locator("h1")).to_have_text("Now the six digits from your phone")
    assert violations(page) == []
    page.fill("[name=code]", codes[0])
    page.click("button.act")
    page.wait_for_url("**/doors/second-step/")
    assert violations(page) == []  # as whoever came in with a recovery code meets it
    page.click("text=Print new recovery codes")
    expect(page.locator(".recovery-codes")).to_be_visible()
    codes = page.locator(".recovery-codes li").all_text_contents()
    phone.open("/doors/second-step/")
    assert violations(page) == []  # and as everybody else does
    page.fill("[name=code]", codes[0])
    page.click("text=Print new recovery codes")
    expect(page.locator(".recovery-codes")).to_be_visible()
    assert violations(page) == []


def test_joining_has_no_barrier(device, site):
    studio = people.studio()
    whom = Whom(role=Membership.Role.STUDENT, name="Pim Larkspur")
    _row, code = invitations.invite(whom, studio=studio, by=people.teacher(studio).user)
    phone = device(service_workers="block")
    page = phone.open("/join/")
    page.fill("[name=code]", code)
    page.click("button.act")
    page.wait_for_url("**/join/as/")
    assert violations(page) == []
