"""What counts as playing: levels as a script gives them, where looks come late or the disk is busy."""

from __future__ import annotations

import pytest

from tests.browser import day

# Two tones of eight beats at a third of a second. `levels`: [from which beat, dB], …; the answer: how often it waited.
WAITS = """async ({ levels, everyMs, heldMs, heldFromBeat }) => {
  const { Run } = await import('/static/assignments/run.js');
  const regular = setInterval.bind(window);
  window.setInterval = (look, ms) => regular(look, everyMs ?? ms);
  const stream = new AudioContext().createMediaStreamDestination().stream;
  const microphone = { stream, settings: {}, works: true, close() {} };
  const tones = [0, 1].map((slot) => ({ slot, title: '', beats: 8 }));
  const named = { profile: 'x', exercise: 'x', plan: null, title: '' };
  const work = { ...named, tones, done: [], beat_s: 1 / 3, rest_after: 20, check: null, bits_per_second: 64000 };
  const holdDatabase = async () => {
    const request = indexedDB.open('footing', 1);
    const database = await new Promise((done) => (request.onsuccess = () => done(request.result)));
    const until = performance.now() + heldMs;
    const held = database.transaction('recordings', 'readwrite').objectStore('recordings');
    const again = () => (held.count().onsuccess = () => performance.now() < until && again());
    again();
  };
  let waits = 0;
  let isHeld = !heldMs;
  return new Promise((done) => {
    const ends = () => done([waits, run.phase]);
    const run = new Run(work, {
      open: async () => microphone,
      leadMs: () => 0,
      committed() {},
      levels: () => ({ now: () => ({ db: levels.findLast(([beat]) => run.beat >= beat)[1], peak: 0 }) }),
      show(one) {
        if (one.phase === 'waiting') {
          waits += 1;
          setTimeout(ends, 1200);
        } else if (one.phase !== 'playing' || one.beat >= 7.5) ends();
        if (!isHeld && one.beat >= heldFromBeat) {
          isHeld = true;
          holdDatabase();
        }
      },
    });
    run.start();
  });
}"""
QUIET_DB, PLAYED_DB = -60, -20
PLAYS = [[-99, QUIET_DB], [0, PLAYED_DB]]


@pytest.fixture
def page(device, site):
    day.student()
    one = device()
    one.sign_in("pim")
    return one.open("/after/")


@pytest.mark.parametrize(
    "what",
    [
        {"levels": PLAYS},
        {"levels": PLAYS, "everyMs": 300},  # looks that come late
        {"levels": PLAYS, "heldMs": 2000, "heldFromBeat": -2},  # a disk that is busy until the middle of the tone
        {"levels": [[-99, PLAYED_DB], [-2, QUIET_DB], [0, PLAYED_DB]]},  # still playing when it begins
    ],
    ids=["as always", "late looks", "busy disk", "a loud beginning"],
)
def test_who_plays_is_heard(page, what):
    assert page.evaluate(WAITS, what) == [0, "playing"]


def test_who_does_not_play_is_waited_for_once_however_slow_the_disk(page):
    silent = {"levels": [[-99, QUIET_DB]], "heldMs": 1500, "heldFromBeat": 3}
    assert page.evaluate(WAITS, silent) == [1, "waiting"]


def test_a_click_is_no_playing(page):
    clicks = {"levels": [[-99, QUIET_DB], [1, PLAYED_DB], [1.3, QUIET_DB]], "everyMs": 300}
    assert page.evaluate(WAITS, clicks) == [1, "waiting"]
