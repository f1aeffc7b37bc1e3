"""A real browser, a real site, a real worker; and a saxophone file where the microphone would be."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from django.db import connection
from playwright.sync_api import (
    Browser,
    BrowserContext,
    ConsoleMessage,
    Error,
    Page,
    Playwright,
    Request,
    expect,
    sync_playwright,
)

from tests import people

os.environ["DJANGO_ALLOW_ASYNC_UNSAFE"] = "true"  # the browser's driver keeps an event loop in this thread
ROOT = Path(__file__).resolve().parents[2]
CHROMIUM = "/usr/bin/chromium"
PHONE = {"width": 390, "height": 844}
LAPTOP = {"width": 1280, "height": 900}
SLOWED = int(os.environ.get("TESTS_PAGES_SLOWED", "1"))  # times
NETWORK_WAS_OFF = "net::ERR_INTERNET_DISCONNECTED"
expect.set_options(timeout=20_000)  # what a page comes to on a slow machine; by itself five seconds


@dataclass
class Device:
    """One browser profile in somebody's hands, and what went wrong in it."""

    context: BrowserContext
    page: Page
    site: str
    troubles: list[str] = field(default_factory=list)
    expected: list[str] = field(default_factory=lambda: [NETWORK_WAS_OFF])  # parts of errors that the test brings about

    def open(self, path: str) -> Page:
        """Goes there; asked again, as a person does, where the page itself was just leaving for another."""
        try:
            self.page.goto(self.site + path)
        except Error as broken_off:
            if "net::ERR_ABORTED" not in broken_off.message:
                raise
            self.page.goto(self.site + path)
        return self.page

    def sign_in(self, username: str) -> Page:
        self.open("/sign-in/")
        self.page.fill("[name=username]", username)
        self.page.fill("[name=password]", people.PASSWORD)
        self.page.click("button.act")
        self.page.wait_for_url(lambda url: "/sign-in/" not in url)
        return self.page


@pytest.fixture(scope="session")
def driver() -> Iterator[Playwright]:
    with sync_playwright() as driver:
        yield driver


@pytest.fixture(scope="package")  # not longer: in the fault tests that may follow it would take what is not its own
def worker(django_db_setup: None, django_db_blocker) -> Iterator[None]:  # type: ignore[no-untyped-def]  # pytest-django's
    """A Celery worker on the tests' database and broker, for as long as browser tests last."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "TESTS_DATABASE": str(connection.settings_dict["NAME"])}
    options = ["--concurrency=1", "--without-gossip", "--without-mingle", "--loglevel=WARNING"]
    command = [sys.executable, "-m", "celery", "--app=tests.worker", "worker", *options]
    process = subprocess.Popen(command, cwd=ROOT, env=environment, start_new_session=True)
    yield
    os.killpg(process.pid, signal.SIGTERM)
    process.wait(90)


@pytest.fixture
def site(transactional_db: None, live_server, worker: None) -> str:  # type: ignore[no-untyped-def]  # pytest-django's
    """The address of a site with everything behind it."""
    return str(live_server.url)


@pytest.fixture(scope="session")
def browser(driver: Playwright) -> Iterator[Browser]:
    """A browser without a microphone; its contexts know nothing of each other, so all tests share it."""
    browser = _launched(driver)
    yield browser
    browser.close()


def _launched(driver: Playwright, *options: str) -> Browser:
    return driver.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", *options])


@contextmanager
def listening(driver: Playwright, browser: Browser, microphone: Path, site: str) -> Iterator[Device]:
    """A phone at a site that the test itself has started."""
    with _devices(driver, browser, site) as start:
        yield start(microphone)


@pytest.fixture
def device(driver: Playwright, browser: Browser, site: str) -> Iterator[Callable[..., Device]]:
    """``device(microphone=file, allowed=True, viewport=PHONE, …)``. A page's error fails the test.

    ``allowed``: whether the page gets the microphone when it asks.
    """
    with _devices(driver, browser, site) as start:
        yield start


@contextmanager
def _devices(driver: Playwright, deaf: Browser, site: str) -> Iterator[Callable[..., Device]]:
    hearing: list[Browser] = []  # what a microphone hears is said when a browser starts: each has its own
    devices: list[Device] = []

    def start(microphone: Path | None = None, *, allowed: bool = True, **options: object) -> Device:
        browser = deaf
        if microphone:
            browser = _launched(driver, *_ears(microphone, allowed=allowed))
            hearing.append(browser)
        context = browser.new_context(**{"viewport": PHONE, **options})  # type: ignore[arg-type]  # playwright's own
        if microphone and allowed:
            context.grant_permissions(["microphone"], origin=site)
        devices.append(Device(context, context.new_page(), site))
        context.new_cdp_session(devices[-1].page).send("Emulation.setCPUThrottlingRate", {"rate": SLOWED})
        listen(devices[-1])
        return devices[-1]

    yield start
    for one in devices:
        one.context.close()
    for browser in hearing:
        browser.close()
    troubles = [(one, trouble) for one in devices for trouble in one.troubles]
    assert [trouble for one, trouble in troubles if not any(part in trouble for part in one.expected)] == []


def _ears(microphone: Path, *, allowed: bool) -> list[str]:
    file = f"--use-file-for-fake-audio-capture={microphone}"
    asking = ["--use-fake-ui-for-media-stream"] if allowed else []
    return [*asking, "--use-fake-device-for-media-stream", file]


def listen(device: Device) -> None:
    def said(message: ConsoleMessage) -> None:
        if message.type == "error":
            device.troubles.append(message.text)

    def asked(request: Request) -> None:
        if not request.url.startswith((device.site, "data:", "blob:")):
            device.troubles.append(f"a request left the site: {request.url}")

    device.page.on("console", said)
    device.context.on("request", asked)
    device.page.on("pageerror", lambda error: device.troubles.append(str(error)))
