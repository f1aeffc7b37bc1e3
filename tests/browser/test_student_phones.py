"""What phones and their browsers do otherwise than this one: each brought about before the page loads."""

from __future__ import annotations

import pytest
from playwright.sync_api import expect

from assignments.models import Take
from tests.browser import day, sounds

ONLY_MP4 = """
const can = MediaRecorder.isTypeSupported.bind(MediaRecorder);
MediaRecorder.isTypeSupported = (type) => !type.includes('webm') && can(type);
"""
NO_SLICES = """
const start = MediaRecorder.prototype.start;
MediaRecorder.prototype.start = function () { start.call(this); };
"""
WAKE_LOCK_REFUSED = """
navigator.wakeLock.request = () => Promise.reject(new DOMException('', 'NotAllowedError'));
"""
NO_WAKE_LOCK = "delete Navigator.prototype.wakeLock;"
NO_VIBRATION = "delete Navigator.prototype.vibrate;"
SLEEPS_UNTIL_A_TAP = """
const ask = AudioContext.prototype.resume;
const tapped = new Promise((resolve) => addEventListener('click', resolve, { capture: true }));
const state = Object.getOwnPropertyDescriptor(BaseAudioContext.prototype, 'state');
let awake = false;
tapped.then(() => (awake = true));
AudioContext.prototype.resume = function () { return awake ? ask.call(this) : new Promise(() => {}); };
Object.defineProperty(BaseAudioContext.prototype, 'state', {
  get() { return awake ? state.get.call(this) : 'suspended'; },
});
"""
CALL = """
for (const track of heard.getTracks()) {
  Object.defineProperty(track, 'muted', { get: () => true });
  track.dispatchEvent(new Event('mute'));
}
"""
KEEP_STREAMS = """
const ask = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
navigator.mediaDevices.getUserMedia = async (wanted) => (window.heard = await ask(wanted));
"""
HEADSET_IS_PUT_ON = """
const told = MediaStreamTrack.prototype.getSettings;
MediaStreamTrack.prototype.getSettings = function () {
  return { ...told.call(this), ...(window.headset && { sampleRate: 16000, autoGainControl: true }) };
};
"""
KEEPS_NOTHING = """
IDBFactory.prototype.open = () => {
  const request = {};
  setTimeout(() => {
    request.error = new DOMException('', 'InvalidStateError');
    request.onerror();
  });
  return request;
};
"""
FULL_INSIDE_A_TONE = """
const put = IDBObjectStore.prototype.put;
IDBObjectStore.prototype.put = function (row) {
  if (window.full && this.name === 'slices' && row.key !== 'trial') throw new DOMException('', 'QuotaExceededError');
  return put.call(this, row);
};
"""
COUNTS_TREMBLING = """
window.recorders = [];
window.trembled = [];
const begin = MediaRecorder.prototype.start;
MediaRecorder.prototype.start = function (ms) { recorders.push(this); begin.call(this, ms); };
Navigator.prototype.vibrate = () => trembled.push(recorders.filter((one) => one.state === 'recording').length);
"""
NO_SOUND = "AudioContext.prototype.resume = () => new Promise(() => {});"
SILENT = "Object.defineProperty(BaseAudioContext.prototype, 'state', { get: () => 'suspended' });"


@pytest.fixture
def horn(site):
    return day.student()


@pytest.fixture
def phone_that(device, horn, tmp_path):
    """``phone_that(does)``: Pim's phone, with a script that runs before each page's own."""

    def start(does: str, microphone=None):  # type: ignore[no-untyped-def]  # a file
        one = device(microphone=microphone or day.sound(tmp_path / "horn.wav"))
        one.context.add_init_script(does)
        one.sign_in("pim")
        return one

    return start


def plays(phone, until: int = 2) -> None:
    """Two tones and the beginning of a third; then these are with the studio."""
    day.play(phone.page, phone.site)
    day.ends(phone, list(range(until)))


def heading(phone):
    return phone.page.locator("h1:visible")


def measured(phone) -> list[str]:
    """The outcomes, once everything that came is measured."""
    day.wait(phone.page, lambda: not Take.objects.filter(settled_at=None).exists())
    return [tried.outcome for take in Take.objects.all() for tried in take.tries.all()]


def test_a_recorder_that_writes_mp4_alone_is_as_good(phone_that):
    phone = phone_that(ONLY_MP4)
    assert phone.page.evaluate("MediaRecorder.isTypeSupported('audio/mp4')")
    plays(phone)
    assert "unreadable" not in measured(phone)
    with Take.objects.latest("received_at").analysis.audio.open() as kept:
        assert b"ftyp" in kept.read(12)


def test_a_recorder_that_gives_its_sound_at_the_end_loses_none(phone_that):
    phone = phone_that(NO_SLICES)
    plays(phone)
    assert "unreadable" not in measured(phone)


@pytest.mark.parametrize("does", [WAKE_LOCK_REFUSED, NO_WAKE_LOCK, NO_VIBRATION])
def test_a_screen_that_may_sleep_and_a_phone_that_cannot_tremble_play_all_the_same(phone_that, does):
    phone = phone_that(does)
    phone.open("/today/play/")
    expect(phone.page.get_by_text("Keep the screen on.")).to_be_visible()
    phone.page.evaluate("localStorage.setItem('footing-vibrate', '1')")
    plays(phone)


def test_a_phone_that_cannot_tremble_is_not_offered_it(phone_that):
    phone = phone_that(NO_VIBRATION)
    phone.open("/mine/")
    expect(phone.page.get_by_label("Low data")).to_be_visible()
    expect(phone.page.get_by_label("Count me in with a touch of vibration")).to_be_hidden()


def test_the_count_in_never_trembles_into_a_take(phone_that):
    phone = phone_that(COUNTS_TREMBLING)
    phone.open("/today/play/")
    phone.page.evaluate("localStorage.setItem('footing-vibrate', '1')")
    day.play(phone.page, phone.site)
    expect(phone.page.locator(".tone").nth(2)).to_be_visible(timeout=60_000)
    trembled = phone.page.evaluate("trembled")
    assert len(trembled) >= 4
    assert set(trembled) == {0}


def test_ears_that_sleep_until_a_tap_are_woken_by_one(phone_that, tmp_path):
    phone = phone_that(SLEEPS_UNTIL_A_TAP, microphone=sounds.sound_check(tmp_path / "check.wav"))
    phone.open("/today/set-up/")  # allowed already: it would listen by itself
    phone.page.wait_for_timeout(2500)
    assert day.phase(phone) == "asking"
    phone.page.click("[data-do=listen]")
    expect(phone.page.locator("[data-do=start]")).to_be_visible(timeout=40_000)


def test_a_call_that_mutes_the_microphone_costs_the_tone_in_progress_alone(phone_that):
    phone = phone_that(KEEP_STREAMS)
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 2, CALL)
    expect(heading(phone)).to_have_text(["The microphone went away"])
    phone.page.click("[data-do=resume]")
    day.ends(phone, [0, 1, 2])


def test_a_headset_put_on_in_the_middle_is_written_beside_its_tones(phone_that):
    phone = phone_that(HEADSET_IS_PUT_ON)
    day.play(phone.page, phone.site)
    expect(phone.page.locator(".tone").nth(1)).to_be_visible(timeout=60_000)
    phone.page.evaluate("window.headset = true")
    day.ends(phone, [0, 1, 2])
    told = {take.asked[0]["slot"]: take.recorder for take in Take.objects.all()}
    assert told[0]["sampleRate"] != 16000
    assert (told[2]["sampleRate"], told[2]["autoGainControl"]) == (16000, True)


def test_a_window_that_keeps_nothing_says_so_before_anybody_plays(phone_that):
    phone = phone_that(KEEPS_NOTHING)
    phone.open("/today/play/")
    expect(heading(phone)).to_have_text(["This window keeps nothing"])
    phone.page.get_by_role("link", name="Choose a file").last.click()
    expect(phone.page.get_by_label("Choose a recording")).to_be_visible()  # the plain form


def test_a_phone_that_fills_up_inside_a_tone_says_so_at_once_and_asks_that_tone_again(phone_that):
    phone = phone_that(FULL_INSIDE_A_TONE)
    day.play(phone.page, phone.site)
    day.in_a_tone(phone.page, 2, "window.full = true")
    expect(heading(phone)).to_have_text(["This phone is full"])
    phone.page.evaluate("window.full = false")
    phone.page.click("[data-do=resume]")
    day.ends(phone, [0, 1, 2])


def test_a_browser_that_may_forget_says_how_it_is_kept_from_it(phone_that):
    phone = phone_that("")
    phone.open("/mine/")
    expect(phone.page.get_by_text("A browser may forget them")).to_be_hidden()
    phone.context.route("**/api/**", lambda route: route.abort())
    phone.expected.append("net::ERR_FAILED")
    day.play(phone.page, phone.site)
    expect(phone.page.locator(".tone").nth(1)).to_be_visible(timeout=60_000)
    phone.page.click("[data-do=pause]")
    phone.page.click("[data-do=finish]")
    phone.open("/mine/")
    expect(phone.page.get_by_text("A browser may forget them")).to_be_visible()


def test_sound_that_the_browser_refuses_is_told_in_words(phone_that):
    phone = phone_that(NO_SOUND + SILENT)
    plays(phone, until=1)
    measured(phone)
    phone.open("/after/")
    phone.page.locator("[data-hear], [data-hear-list]").first.click()
    expect(phone.page.locator("#said")).to_have_text("That sound can’t be played now.")
