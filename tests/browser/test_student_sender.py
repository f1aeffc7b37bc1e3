"""What waits on a phone goes up, whatever one recording, one answer or the phone's own database does meanwhile."""

from __future__ import annotations

import pytest

from assignments.models import Take
from tests.browser import day

KEEP = """async (kept) => {
  const [{ change }, { keepFile }] = await Promise.all(
    ['store', 'writing'].map((name) => import(`/static/assignments/${name}.js`)));
  const { profile, exercise, plan } = JSON.parse(document.getElementById('work').textContent);
  for (const { key, slot } of kept) {
    const row = { key, profile, exercise, plan, slots: [slot], title: key, about: {} };
    await keepFile(row, new File([key], 'memo', { type: 'audio/webm' }));
    await new Promise((resolve) => setTimeout(resolve, 5)); // one after the other by the clock too
  }
}"""
NUDGE = "() => dispatchEvent(new Event('online'))"
SHUT = """() => {
  const before = IDBDatabase.prototype.transaction;
  IDBDatabase.prototype.transaction = function (...how) {
    IDBDatabase.prototype.transaction = before;
    this.close(); // as browsers do with one of a page that was out of sight
    return before.apply(this, how);
  };
}"""
IMPATIENT = """() => {
  const timeout = AbortSignal.timeout;
  AbortSignal.timeout = (ms) => {
    AbortSignal.timeout = timeout; // the first request alone: the others may take as long as they do
    window.waitedMs = ms;
    return timeout.call(AbortSignal, 500);
  };
}"""
FIRST, SECOND = "00000000-0000-4000-8000-000000000001", "00000000-0000-4000-8000-000000000002"


@pytest.fixture
def phone(device, site):
    day.student()
    one = device()
    one.sign_in("pim")
    one.open("/today/files/")
    return one


def keep(phone, *keys: str) -> None:
    phone.page.evaluate(KEEP, [{"key": key, "slot": slot} for slot, key in enumerate(keys)])


def arrived(*keys: str):  # type: ignore[no-untyped-def]  # a question without arguments
    return lambda: {str(take.client_key) for take in Take.objects.all()} == set(keys)


def test_one_recording_that_breaks_the_studios_program_each_time_holds_up_no_other(phone):
    phone.expected.append("500")
    broken = {FIRST}

    def answer(route) -> None:  # type: ignore[no-untyped-def]  # playwright's
        if any(key in (route.request.post_data or "") for key in broken):
            route.fulfill(status=500, body="")
        else:
            route.continue_()

    phone.context.route("**/api/takes/", answer)
    keep(phone, FIRST, SECOND)
    phone.page.evaluate(NUDGE)
    day.wait(phone.page, arrived(SECOND), 30)
    broken.clear()
    day.wait(phone.page, arrived(FIRST, SECOND), 30)  # by itself


@pytest.mark.parametrize("when", ["Fri, 31 Dec 2027 23:59:59 GMT", "99999999999", "soon"])
def test_a_studio_that_says_when_in_words_or_much_too_late_is_not_asked_all_the_time(phone, when):
    phone.expected.append("503")
    asked: list[str] = []

    def answer(route) -> None:  # type: ignore[no-untyped-def]  # playwright's
        asked.append(route.request.url)
        route.fulfill(status=503, headers={"Retry-After": when}, body="")

    phone.context.route("**/api/uploads/*/", answer)
    keep(phone, FIRST)
    phone.page.evaluate(NUDGE)
    day.wait(phone.page, lambda: asked, 20)
    phone.page.wait_for_timeout(2500)  # first a second, then two
    assert len(asked) <= 3


def test_a_database_that_the_browser_has_shut_is_opened_again_and_everything_goes_up(phone):
    keep(phone, FIRST)
    phone.page.evaluate(SHUT)
    phone.page.evaluate(NUDGE)
    day.wait(phone.page, arrived(FIRST), 30)


def test_trouble_that_nobody_thought_of_is_in_the_console_and_tried_again(phone):
    phone.expected.append("what nobody thought of")
    keep(phone, FIRST)
    phone.page.evaluate(
        """() => {
          const before = IDBObjectStore.prototype.getAll;
          IDBObjectStore.prototype.getAll = function (...what) {
            if (this.name !== 'recordings') return before.apply(this, what);
            IDBObjectStore.prototype.getAll = before;
            throw new Error('what nobody thought of');
          };
        }"""
    )
    phone.page.evaluate("async () => (await import('/static/assignments/shell.js')).sender.nudge()")
    day.wait(phone.page, arrived(FIRST), 30)


def test_a_request_that_hangs_on_a_dead_line_is_let_go_and_everything_goes_up_by_itself(phone):
    hung: list[object] = []

    def answer(route) -> None:  # type: ignore[no-untyped-def]  # playwright's
        if hung:
            route.continue_()
        hung.append(route)  # the first one gets no answer, ever

    phone.context.route("**/api/uploads/*/", answer)
    phone.page.evaluate(IMPATIENT)
    keep(phone, FIRST)
    phone.page.evaluate(NUDGE)
    day.wait(phone.page, arrived(FIRST), 30)
    assert len(hung) > 1
    assert 30_000 <= phone.page.evaluate("waitedMs") <= 120_000  # what a slow line is given, before it counts as dead
