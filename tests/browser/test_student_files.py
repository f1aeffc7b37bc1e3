"""Recordings made elsewhere, several at once: chosen by hand, or shared from the phone's own recorder."""

from __future__ import annotations

from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from assignments.models import Take
from tests.browser import day, sounds

TONES = ((67, "mf"), (60, "f"), (72, "mf"), (67, "f"))
SHARE = """async (files) => {
  const made = (tag, what) => Object.assign(document.createElement(tag), what);
  const form = made('form', { method: 'post', action: '/today/shared/', enctype: 'multipart/form-data' });
  const input = made('input', { type: 'file', name: 'recordings', multiple: true });
  const all = new DataTransfer();
  for (const [name, type, bytes] of files) all.items.add(new File([Uint8Array.from(bytes)], name, { type }));
  input.files = all.files;
  form.append(input);
  document.body.append(form);
  form.submit();
}"""
CLOUD_FILE_CANNOT_BE_READ = """
const slice = Blob.prototype.slice;
Blob.prototype.slice = function (...asked) {
  const arrayBuffer = () => Promise.reject(new DOMException('', 'NotReadableError'));
  return this.name === 'cloud.wav' ? { arrayBuffer } : slice.apply(this, asked);
};
"""
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


@pytest.fixture
def horn(site):
    return day.student(TONES)


@pytest.fixture
def phone(device, horn):
    one = device()
    one.sign_in("pim")
    return one


def memo(folder: Path, name: str, *tones: tuple[int, str]) -> Path:
    return sounds.played(tones, folder / name, beats_per_minute=day.QUICK)


def choose(page: Page, *files: Path) -> None:
    page.set_input_files("[name=chosen]", list(files))
    expect(page.locator("#files .row")).to_have_count(len(files))


def answers(page: Page) -> list[str]:
    """What the page says is in each file."""
    expect(page.locator("#files .row:not(:has([data-word]:not([hidden])))")).to_have_count(0)
    expect(page.locator("#files .row")).not_to_have_count(0)
    return [
        str(one.evaluate("one => one.selectedOptions[0].textContent")) for one in page.locator("#files select").all()
    ]


def told(page: Page, words: str) -> Locator:
    """What is said of files in these words, as far as it shows."""
    return page.locator("#files [data-word]:visible", has_text=words)


def share(phone, *files: Path, kind: str = "audio/wav") -> None:
    """As the phone's recorder does, once the service worker looks after the site."""
    day.wait(phone.page, lambda: phone.page.evaluate("navigator.serviceWorker.controller !== null"), 20)
    with phone.page.expect_navigation(url="**/today/files/**"):
        phone.page.evaluate(SHARE, [[file.name, kind, list(file.read_bytes())] for file in files])


def asked_of(takes) -> list[list[int]]:  # type: ignore[no-untyped-def]  # a queryset
    return [[slot["slot"] for slot in take.asked] for take in takes.order_by("received_at")]


def test_several_files_that_hold_what_was_asked_are_sent_without_a_question(phone, tmp_path):
    page = phone.open("/today/files/")
    choose(page, *(memo(tmp_path, f"memo {place}.wav", tone) for place, tone in enumerate(TONES)))
    assert answers(page) == ["G4 mf", "C4 f", "C5 mf", "G4 f"]
    page.click("text=Send it")
    page.wait_for_url("**/after/", timeout=30_000)
    assert asked_of(Take.objects) == [[0], [1], [2], [3]]


def test_a_single_take_of_the_whole_day_is_told_by_its_notes(phone, tmp_path):
    page = phone.open("/today/files/")
    choose(page, memo(tmp_path, "whole day.wav", *TONES))
    assert answers(page) == ["All that are still to play, in this order"]
    page.click("text=Send it")
    page.wait_for_url("**/takes/**", timeout=30_000)
    expect(page.locator("h1")).to_have_text("4 of 4 tones on target", timeout=40_000)


def test_only_what_cannot_be_told_is_asked(phone, tmp_path):
    page = phone.open("/today/files/")
    choose(page, memo(tmp_path, "a G.wav", TONES[0]))
    assert answers(page) == ["Choose"]  # two are asked for
    expect(told(page, "I can’t tell which tones these are. Please say.")).to_have_count(1)
    page.click("text=Send it")
    expect(page.locator("#files select")).to_be_focused()
    assert not Take.objects.exists()
    page.set_input_files("[name=chosen]", memo(tmp_path, "the C after it.wav", TONES[2]))
    expect(page.locator("#files .row")).to_have_count(2)
    assert answers(page) == ["G4 mf", "C5 mf"]  # the G before it
    page.locator("#files select").nth(1).select_option(label="C4 f")
    page.click("text=Send it")
    page.wait_for_url("**/after/", timeout=30_000)
    assert sorted(asked_of(Take.objects)) == [[0], [1]]


def test_what_cannot_be_read_is_told_and_keeps_nothing_back(phone, tmp_path):
    page = phone.open("/today/files/")
    (tmp_path / "empty.wav").write_bytes(b"")
    (tmp_path / "letter.pdf").write_bytes(b"%PDF-1.4")
    (tmp_path / "odd.amr").write_bytes(b"#!AMR\n" + b"\x04" * 500)
    good = memo(tmp_path, "good.wav", TONES[1])
    (tmp_path / "again.wav").write_bytes(good.read_bytes())
    choose(page, good, *(tmp_path / name for name in ("empty.wav", "letter.pdf", "again.wav", "odd.amr")))
    for words in (
        "This file is empty",
        "This is no recording",
        "This one is here twice",
        "This phone can’t listen to it",
    ):
        expect(told(page, words)).to_have_count(1)
    page.get_by_label("odd.amr").select_option(label="C5 mf")
    page.click("text=Send it")
    page.wait_for_url("**/after/", timeout=30_000)
    assert sorted(asked_of(Take.objects)) == [[1], [2]]


def test_a_file_that_cannot_be_read_is_told_and_stops_no_other(phone, tmp_path):
    phone.context.add_init_script(CLOUD_FILE_CANNOT_BE_READ)
    page = phone.open("/today/files/")
    choose(page, memo(tmp_path, "cloud.wav", TONES[2]), memo(tmp_path, "good.wav", TONES[1]))
    expect(told(page, "This file can’t be read just now")).to_have_count(1)
    page.click("text=Send it")
    page.wait_for_url("**/takes/**", timeout=30_000)
    assert asked_of(Take.objects) == [[1]]


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


def test_notes_are_told_by_the_horns_own_a4(phone, horn, tmp_path):
    horn.a4_hz = 415.0
    horn.save()
    plan = horn.day_plans.get()
    plan.tones = [{**plan.tones[0], "written_midi": midi, "tone": "f"} for midi in (59, 60)]
    plan.save()
    page = phone.open("/today/files/")
    recording = sounds.played([(60, "f")], tmp_path / "C.wav", beats_per_minute=day.QUICK, a4_hz=415.0)
    choose(page, recording)
    assert answers(page) == ["C4 f"]  # at 440 Hz it would be nearer to B3


def test_a_file_that_was_sent_before_is_not_sent_again(phone, tmp_path):
    recording = memo(tmp_path, "memo.wav", TONES[1])
    for _ in range(2):
        page = phone.open("/today/files/?slots=1")
        choose(page, recording)
        page.click("text=Send it")
        page.wait_for_url("**/takes/**", timeout=30_000)
    assert Take.objects.count() == 1


def test_files_chosen_without_network_wait_and_go_up_later(phone, tmp_path):
    phone.open("/today/")
    day.wait_until_kept(phone.page, "/today/files/")
    phone.context.set_offline(True)
    page = phone.open("/today/files/")
    expect(page.locator("#kept")).to_contain_text("This is your copy of")
    choose(page, memo(tmp_path, "memo.wav", TONES[1]))
    page.click("text=Send it")
    expect(told(page, "It waits on this phone")).to_have_count(1)
    page.reload()
    phone.context.set_offline(False)
    day.wait(page, Take.objects.exists, 30)
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
    phone.page.get_by_role("button", name="Sign out").click()
    phone.page.wait_for_url("**/sign-in/")
    phone.page.evaluate(SHARE, [["shared.wav", "audio/wav", list(memo(tmp_path, "shared.wav", TONES[1]).read_bytes())]])
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
    phone.page.evaluate(SHARE, [["shared.wav", "audio/wav", [1, 2, 3]]])
    phone.page.wait_for_url("**/today/files/?again")
    expect(phone.page.get_by_text("Share it once more.")).to_be_visible()
