"""What the phone's own recorder shares with this site, with network and without."""

from __future__ import annotations

import base64
from pathlib import Path

from playwright.sync_api import expect

from assignments.models import Take
from tests.browser import day
from tests.browser.test_student_files import TONES, answers, asked_of, horn, memo, phone, told

__all__ = ["horn", "phone"]  # the fixtures

SHARE = """async (files) => {
  const made = (tag, what) => Object.assign(document.createElement(tag), what);
  const form = made('form', { method: 'post', action: '/today/shared/', enctype: 'multipart/form-data' });
  const input = made('input', { type: 'file', name: 'recordings', multiple: true });
  const all = new DataTransfer();
  const bytesOf = (text) => Uint8Array.from(atob(text), (letter) => letter.charCodeAt(0));
  for (const [name, type, text] of files) all.items.add(new File([bytesOf(text)], name, { type }));
  input.files = all.files;
  form.append(input);
  document.body.append(form);
  form.submit();
}"""
ROOM_FOR_A_ROW_AND_NO_SOUND = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (row) {
  const { transaction } = this;
  const request = put.call(this, row);
  if (window.full && this.name === 'slices') request.onsuccess = () => {
    Object.defineProperty(transaction, 'error', { value: new DOMException('', 'QuotaExceededError') });
    transaction.abort();
  };
  return request;
};
"""


def share(phone, *files: Path, kind: str = "audio/wav") -> None:
    """As the phone's recorder does, once the service worker looks after the site."""
    day.wait_until_kept(phone.page, "/today/")  # until then nobody is known to be here
    wait_until_looked_after(phone)
    with phone.page.expect_navigation(url="**/today/files/**"):
        phone.page.evaluate(SHARE, [handed_over(file, kind) for file in files])


def wait_until_looked_after(phone) -> None:
    """Until the service worker is there to take in what is shared."""
    day.wait(phone.page, lambda: phone.page.evaluate("navigator.serviceWorker.controller !== null"))


def handed_over(file: Path, kind: str = "audio/wav") -> list[str]:
    """A file for SHARE. As a list of half a million numbers each it took a busy machine longer than a page may take."""
    return [file.name, kind, base64.b64encode(file.read_bytes()).decode()]


def test_a_full_phone_keeps_what_was_shared_however_often_it_is_sent(phone, tmp_path):
    phone.context.add_init_script(ROOM_FOR_A_ROW_AND_NO_SOUND)
    phone.open("/today/")
    share(phone, memo(tmp_path, "shared.wav", TONES[1]))
    page = phone.page
    assert answers(page) == ["C4 f"]
    page.evaluate("window.full = true")
    for _ in range(2):
        page.click("text=Send it")
        expect(told(page, "This phone is full")).to_have_count(1)
        page.wait_for_timeout(500)
        expect(told(page, "It waits on this phone")).to_have_count(0)
    page = phone.open("/today/files/")
    assert answers(page) == ["C4 f"]  # it is here still
    page.click("text=Send it")
    page.wait_for_url("**/takes/**", timeout=30_000)
    assert asked_of(Take.objects) == [[1]]


def test_what_the_recorder_shares_without_network_is_kept_asked_about_and_sent_later(phone, tmp_path):
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/files/")
    phone.context.set_offline(True)
    share(phone, memo(tmp_path, "shared 1.wav", TONES[1]), memo(tmp_path, "shared 2.wav", TONES[2]))
    assert answers(phone.page) == ["C4 f", "C5 mf"]
    page = phone.open("/today/")  # put off: it is told until it is done
    page.get_by_role("link", name="Recordings came in from your recorder").click()
    phone.context.set_offline(False)
    page.click("text=Send it")
    page.wait_for_url("**/after/", timeout=30_000)
    assert asked_of(Take.objects) == [[1], [2]]
    phone.open("/today/files/")
    expect(page.locator("#files .row")).to_have_count(0)


def test_what_is_shared_while_nobody_is_signed_in_is_nobodys_until_somebody_says_so(phone, tmp_path):
    phone.open("/mine/")
    wait_until_looked_after(phone)
    phone.page.get_by_role("button", name="Sign out").click()
    phone.page.wait_for_url("**/sign-in/")
    phone.page.evaluate(SHARE, [handed_over(memo(tmp_path, "shared.wav", TONES[1]))])
    phone.page.wait_for_url("**/sign-in/?next=/today/files/")
    phone.sign_in("pim")
    page = phone.open("/today/files/")
    expect(page.locator("#files .row")).to_have_count(0)
    page.click("text=They are mine")
    expect(page.locator("#files .row")).to_have_count(1)
    assert answers(page) == ["C4 f"]


def test_shared_before_the_site_was_ready_for_it_says_to_share_once_more(device, horn, tmp_path):
    phone = device(service_workers="block")
    phone.sign_in("pim")
    phone.page.evaluate(SHARE, [["shared.wav", "audio/wav", base64.b64encode(b"123").decode()]])
    phone.page.wait_for_url("**/today/files/?again")
    expect(phone.page.get_by_text("Share it once more.")).to_be_visible()
