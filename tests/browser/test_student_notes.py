"""Notes of a reminder in a real browser: asked for on a tap, received by the service worker, opening Today.

A browser's own service can't be reached here, so what it would give is put in its place; the message comes through the
browser's developer tools, by the way on which a real one comes.
"""

from __future__ import annotations

import datetime as dt
import json
from collections.abc import Iterator

import pytest
from playwright.sync_api import Worker, expect

from assignments import reminder_devices, reminder_posts, reminders
from assignments.models import ReminderDevice
from assignments.push import base64url
from studio.models import Horn, Session
from tests import push_service
from tests.browser import day
from tests.browser.conftest import CHROMIUM, PHONE, Device, listen

ENDPOINT = "https://push.example.org/p/one"
ASKED = """() => {
  window.asked = 0;
  const ask = Notification.requestPermission.bind(Notification);
  Notification.requestPermission = () => { window.asked += 1; return ask(); };
}"""
REFUSED = """Notification.requestPermission = async () => "denied";
Object.defineProperty(Notification, "permission", { get: () => "denied" });"""
NO_PUSH = "delete window.PushManager"
GIVES = """([endpoint, key, auth]) => {
  const plain = (text) => atob(text.replaceAll("-", "+").replaceAll("_", "/"));
  const bytes = (text) => Uint8Array.from(plain(text), (one) => one.charCodeAt(0)).buffer;
  const given = { endpoint, getKey: (name) => bytes(name === "auth" ? auth : key) };
  PushManager.prototype.subscribe = async ({ userVisibleOnly, applicationServerKey }) => {
    if (!userVisibleOnly || applicationServerKey.length !== 65) throw new TypeError();
    localStorage.setItem("given", "yes");
    return given;
  };
  PushManager.prototype.getSubscription = async () => (localStorage.getItem("given") ? given : null);
}"""
MOVES = """async ([endpoint, key, auth]) => {
  let asked = null;
  PushManager.prototype.subscribe = async (options) => {
    asked = options;
    return { toJSON: () => ({ endpoint, keys: { p256dh: key, auth } }) };
  };
  await new Promise((done) => {
    const event = new ExtendableEvent("pushsubscriptionchange");
    event.waitUntil = (work) => work.then(done);
    self.dispatchEvent(event);
  });
  return asked;
}"""
REMEMBERED = "async () => (await (await caches.open('notes')).keys()).length"
ACTIVE = """async () => {
  const { active } = await navigator.serviceWorker.ready;
  while (active.state !== "activated") await new Promise((done) => setTimeout(done, 50));
}"""
SHOWN = """async () => (await (await navigator.serviceWorker.ready).getNotifications())
  .map(({ title, body, lang, tag }) => ({ title, body, lang, tag }))"""
TAPPED = """async () => {
  const opened = [];
  self.clients.openWindow = async (path) => opened.push(path);
  const [notification] = await self.registration.getNotifications();
  await new Promise((done) => {
    const event = new NotificationEvent("notificationclick", { notification });
    event.waitUntil = (work) => work.then(done);
    self.dispatchEvent(event);
  });
  return { opened, left: (await self.registration.getNotifications()).length };
}"""


@pytest.fixture
def horn(site, settings):
    settings.PUSH = True
    horn = day.student()
    player = horn.player
    player.of_age = True
    player.save()
    reminders.choose(
        player, by=player.user, at=dt.time(17, 30), time_zone="Europe/Lisbon", email="", language="en", way="device"
    )
    return horn


@pytest.fixture
def phone(device, horn):
    phone = device()
    phone.sign_in("pim")
    phone.context.grant_permissions(["notifications"], origin=phone.site)
    return phone


@pytest.fixture
def lasting(driver, horn, site, tmp_path) -> Iterator[Device]:
    """Chromium takes what is pushed only in a profile that it keeps."""
    context = driver.chromium.launch_persistent_context(
        str(tmp_path / "profile"), executable_path=CHROMIUM, args=["--no-sandbox"], viewport=PHONE
    )
    phone = Device(context, context.pages[0], site)
    listen(phone)
    phone.sign_in("pim")
    context.grant_permissions(["notifications"], origin=site)
    yield phone
    context.close()
    assert phone.troubles == []


def page_of(horn: Horn) -> str:
    return f"/reminders/{horn.player_id}/device/"


def worker_of(phone: Device) -> Worker:
    day.wait(phone.page, lambda: phone.context.service_workers)
    return phone.context.service_workers[0]


def test_nobody_is_asked_before_they_tap_and_what_the_browser_gives_is_kept(phone, horn):
    browser = push_service.Browser()
    given = browser.given(ENDPOINT)
    phone.page.add_init_script(f"({ASKED})()")
    phone.page.add_init_script(f"({GIVES})({json.dumps([ENDPOINT, given['public_key'], given['auth']])})")
    page = phone.open(page_of(horn))
    expect(page.get_by_role("button", name="Notes on this device")).to_be_visible()
    assert page.evaluate("window.asked") == 0
    page.get_by_role("button", name="Notes on this device").click()
    expect(page.get_by_role("heading", name="A note comes here at 17:30")).to_be_visible()
    kept = ReminderDevice.objects.get()
    assert (kept.endpoint, base64url.decode(kept.public_key)) == (ENDPOINT, browser.public)
    expect(page.get_by_role("button", name="Ask again")).to_be_hidden()
    expect(page.get_by_text("The browser has switched notes off since.")).to_be_hidden()
    page.evaluate("localStorage.removeItem('given')")
    page.reload()
    expect(page.get_by_text("The browser has switched notes off since.")).to_be_visible()
    expect(page.get_by_role("button", name="Ask again")).to_be_visible()
    page.get_by_role("button", name="No notes here").click()
    expect(page.get_by_role("heading", name="A note here at 17:30?")).to_be_visible()
    assert not ReminderDevice.objects.exists()


def test_a_browser_that_says_no_is_told_of_in_words(phone, horn):
    phone.page.add_init_script(REFUSED)
    page = phone.open(page_of(horn))
    expect(page.get_by_text("This browser was told to show no notes of Footing.")).to_be_visible()
    expect(page.get_by_role("button", name="Notes on this device")).to_be_hidden()
    expect(page.get_by_role("link", name="Time and way of the reminder")).to_be_visible()


def test_a_browser_without_them_says_how_an_iphone_gets_them(phone, horn):
    phone.page.add_init_script(NO_PUSH)
    page = phone.open(page_of(horn))
    expect(page.get_by_text("On an iPhone or iPad they come to Footing on the home screen")).to_be_visible()
    expect(page.get_by_role("button", name="Notes on this device")).to_be_hidden()


def test_a_browser_that_gives_no_address_says_so(phone, horn):
    phone.expected.append("Push API in incognito mode")  # as the windows of these tests are
    page = phone.open(page_of(horn))
    page.get_by_role("button", name="Notes on this device").click()
    expect(page.get_by_text("The browser gave no address for notes.")).to_be_visible()
    assert not ReminderDevice.objects.exists()


def test_a_note_that_comes_is_shown_and_a_tap_opens_today(lasting, horn):
    page = lasting.open("/mine/")
    worker = worker_of(lasting)
    deliver(lasting, words_for(horn))
    day.wait(page, lambda: page.evaluate(SHOWN))
    shown = {"title": "Footing", "body": "Time for a few tones.", "lang": "en", "tag": "reminder"}
    assert page.evaluate(SHOWN) == [shown]
    assert worker.evaluate(TAPPED) == {"opened": ["/today/"], "left": 0}


def test_a_browser_that_moves_its_address_tells_the_studio_by_itself(phone, horn):
    moved = push_service.Browser().given("https://push.example.org/p/two")
    one, two = push_service.Browser().given(ENDPOINT), [moved["endpoint"], moved["public_key"], moved["auth"]]
    phone.page.add_init_script(f"({GIVES})({json.dumps([ENDPOINT, one['public_key'], one['auth']])})")
    page = phone.open(page_of(horn))
    page.get_by_role("button", name="Notes on this device").click()
    expect(page.get_by_role("heading", name="A note comes here at 17:30")).to_be_visible()
    page.evaluate(ACTIVE)
    day.wait(page, lambda: page.evaluate(REMEMBERED))
    asked = worker_of(phone).evaluate(MOVES, two)
    kept = ReminderDevice.objects.get()
    assert [kept.endpoint, kept.public_key, kept.auth] == two
    assert asked == {"userVisibleOnly": True, "applicationServerKey": kept.site_key}
    page.reload()  # whose browser, in this test, still says the old one
    expect(page.get_by_text("The browser has a new address for notes.")).to_be_visible()
    expect(page.get_by_role("button", name="Ask again")).to_be_visible()
    page.get_by_role("button", name="No notes here").click()
    expect(page.get_by_role("heading", name="A note here at 17:30?")).to_be_visible()
    assert worker_of(phone).evaluate(MOVES, two) is None
    assert not ReminderDevice.objects.exists()


def deliver(phone: Device, words: str) -> None:
    """As the browser's own service would, once the browser has unsealed it."""
    line = phone.context.new_cdp_session(phone.page)
    known: list[str] = []
    line.on(
        "ServiceWorker.workerRegistrationUpdated",
        lambda event: known.extend(one["registrationId"] for one in event["registrations"]),
    )
    line.send("ServiceWorker.enable")
    day.wait(phone.page, lambda: known)
    phone.page.evaluate(ACTIVE)
    line.send("ServiceWorker.deliverPushMessage", {"origin": phone.site, "registrationId": known[0], "data": words})


def words_for(horn: Horn) -> str:
    """What the sweeper would seal for the player's own phone."""
    here = Session.objects.filter(user=horn.player.user).latest("begun_at")
    browser = push_service.Browser().given(ENDPOINT)
    device = reminder_devices.add(
        horn.player.reminder, session_key=here.pk, site_key="of this site", language="en", **browser
    )
    return reminder_posts.words(device).decode()
