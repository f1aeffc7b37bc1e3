"""Which moments a teacher is offered to hear."""

from __future__ import annotations

import datetime as dt
import uuid

from assignments import moments
from tests.played import check

MONDAY = dt.date(2026, 3, 9)


def missed(key, note=73, tone="mf", *, days_on=0, order=0, code="pitch_climbs"):
    return moments.Missed(key, MONDAY + dt.timedelta(days=days_on), order, note, tone, [check(code)])


def test_nothing_missed_is_nothing_to_hear():
    assert moments.choose([]) == []


def test_there_are_never_more_than_seven():
    assert len(moments.choose(missed(note, note) for note in range(60, 80))) == 7


def test_what_came_back_on_several_days_is_heard_once_and_first():
    chosen = moments.choose([missed("early", 60), missed("late", 60, days_on=2), missed("once", 70, days_on=3)])
    assert [(moment.key, moment.why) for moment in chosen] == [("late", "again"), ("once", "new")]
    assert chosen[0].days == (MONDAY, MONDAY + dt.timedelta(days=2))


def test_two_different_things_on_one_note_are_two_moments():
    chosen = moments.choose([missed("pitch"), missed("start", code="starts_late", order=1)])
    assert {moment.key for moment in chosen} == {"pitch", "start"}


def test_a_note_that_the_high_notes_wait_for_goes_before_any_other():
    chosen = moments.choose([missed("newest", 60, days_on=3), missed("short", 86)], notes_short=(86,))
    assert [(moment.key, moment.why) for moment in chosen] == [("short", "short"), ("newest", "new")]


SOFT = uuid.UUID(int=1)


def squeeze(*days_on, names=("sharp", "late")):
    """As a played day keeps it, the newest sign first."""
    days = [(MONDAY + dt.timedelta(days=day)).isoformat() for day in sorted(days_on, reverse=True)]
    signs = [{"name": name, "on": day, "try": str(SOFT), "at_s": [1.0, 2.0]} for day in days for name in names]
    return {"written_midi": 70, "days": days, "signs": signs}


def test_a_squeezed_soft_tone_is_the_first_of_all_and_heard_once():
    squeezed = moments.of_squeezes([squeeze(0, 2)], since=MONDAY)
    tries = [missed("again", 60), missed("again too", 60, days_on=1), missed(SOFT, 70, "pp", days_on=2)]
    chosen = moments.choose(tries, squeezed=squeezed)
    assert [moment.key for moment in chosen] == [SOFT, "again too"]
    assert chosen[0].why == "squeeze"
    assert chosen[0].codes == ("squeeze_sharp", "squeeze_late")
    assert chosen[0].days == (MONDAY, MONDAY + dt.timedelta(days=2))
    assert chosen[0].at_s == (1.0, 2.0)


def test_a_squeeze_from_before_the_last_lesson_was_heard_there():
    assert moments.of_squeezes([squeeze(0, 2)], since=MONDAY + dt.timedelta(days=3)) == []


def test_of_one_kind_the_newest_is_first():
    chosen = moments.choose([missed("old", 60), missed("new", 62, order=5), missed("newer", 64, days_on=1)])
    assert [moment.key for moment in chosen] == ["newer", "new", "old"]


def test_the_must_haves_are_named_before_the_advice():
    advice = {**check("airy"), "must": False}
    assert moments.codes([advice, check("pitch_climbs"), check(None)]) == ("pitch_climbs", "airy")


def test_the_place_to_hear_is_where_the_must_have_shows():
    advice = {**check("airy", at_s=(0.0, 1.0)), "must": False}
    assert moments.here([advice, check("pitch_climbs", at_s=(4.0, 6.0))]) == (4.0, 6.0)
    assert moments.here([check(None)]) is None
