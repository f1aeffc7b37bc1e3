"""Recordings made elsewhere, several at once, chosen by hand."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest
from playwright.sync_api import Locator, Page, expect

from assignments.models import Take
from tests.browser import day, sounds

TONES = ((67, "mf"), (60, "f"), (72, "mf"), (67, "f"))
CLOUD_FILE_CANNOT_BE_READ = """
const slice = Blob.prototype.slice;
Blob.prototype.slice = function (...asked) {
  const arrayBuffer = () => Promise.reject(new DOMException('', 'NotReadableError'));
  return this.name === 'cloud.wav' ? { arrayBuffer } : slice.apply(this, asked);
};
"""
BREAKS_OVER_ONE = """
const digest = SubtleCrypto.prototype.digest;
SubtleCrypto.prototype.digest = function (...asked) {
  SubtleCrypto.prototype.digest = digest;
  return Promise.reject(new Error('nobody thought of this'));
};
"""
LISTENS_WHEN_TOLD = """
const decode = BaseAudioContext.prototype.decodeAudioData;
const told = new Promise((resolve) => { window.listens = resolve; });
BaseAudioContext.prototype.decodeAudioData = async function (bytes) {
  await told;
  return decode.call(this, bytes);
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
    """What the page says is in each file, once it has listened to all of them."""
    expect(page.locator("#files .row")).not_to_have_count(0)
    expect(page.locator("#files .row:not(:has([data-word]:visible))")).to_have_count(0)
    expect(page.locator("#files [data-word=listens]:visible")).to_have_count(0)
    return [
        str(one.evaluate("one => one.selectedOptions[0].textContent")) for one in page.locator("#files select").all()
    ]


def told(page: Page, words: str) -> Locator:
    """What is said of files in these words, as far as it shows."""
    return page.locator("#files [data-word]:visible", has_text=words)


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
    expect(page.locator(".heard-tone").get_by_text("on target")).to_have_count(4, timeout=120_000)


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


@pytest.mark.parametrize(
    ("trouble", "named", "words", "in_the_console"),
    [
        (CLOUD_FILE_CANNOT_BE_READ, "cloud.wav", "This file can’t be read just now", []),
        (BREAKS_OVER_ONE, "strange.wav", "Something went wrong with this file", ["nobody thought of this"]),
    ],
    ids=["of a cloud", "in a way that nobody thought of"],
)
def test_a_file_that_breaks_is_told_and_stops_no_other(phone, tmp_path, trouble, named, words, in_the_console):
    phone.expected += in_the_console
    phone.context.add_init_script(trouble)
    page = phone.open("/today/files/")
    choose(page, memo(tmp_path, named, TONES[2]), memo(tmp_path, "good.wav", TONES[1]))
    expect(told(page, words)).to_have_count(1)
    page.click("text=Send it")
    page.wait_for_url("**/takes/**", timeout=30_000)
    assert asked_of(Take.objects) == [[1]]


def test_whoever_taps_before_everything_is_listened_to_sends_all_of_it_once(phone, tmp_path):
    phone.context.add_init_script(LISTENS_WHEN_TOLD)
    page = phone.open("/today/files/")
    files = [memo(tmp_path, f"memo {place}.wav", TONES[place]) for place in (1, 2)]
    page.set_input_files("[name=chosen]", files)
    for _ in range(3):
        page.click("text=Send it")
    page.evaluate("listens()")
    page.wait_for_url("**/after/", timeout=30_000)
    assert asked_of(Take.objects) == [[1], [2]]


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
    today = dt.datetime.now(dt.UTC).astimezone()
    expect(page.locator("#kept")).to_contain_text(f"This is your copy of {today:%A} {today.day} {today:%B} at")
    choose(page, memo(tmp_path, "memo.wav", TONES[1]))
    page.click("text=Send it")
    expect(told(page, "It waits on this phone")).to_have_count(1)
    page.reload()
    phone.context.set_offline(False)
    day.wait(page, Take.objects.exists, 30)
    assert asked_of(Take.objects) == [[1]]
