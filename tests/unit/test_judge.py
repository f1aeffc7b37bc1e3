"""One tone against its target: hit, miss, or not to be told; at most four must-haves; the rest is advice."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from analysis.core.judge import not_heard
from analysis.core.records import LevelScale
from analysis.core.words import all_words
from tests.unit.judged import ASKED, GOOD, SWELL, WAVES, check, missed, verdict
from tests.unit.made import tone


def test_a_tone_with_nothing_amiss_is_a_hit() -> None:
    found = verdict(tone())
    assert (found.outcome, missed(found), found.reasons) == ("hit", [], ())


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"pitch_cents": 25.0}, "pitch_high"),
        ({"pitch_cents": -25.0}, "pitch_low"),
        ({"pitch_spread_cents": 12.0}, "pitch_wavers"),
        ({"pitch_drift_cents": 20.0}, "pitch_climbs"),
        ({"pitch_drift_cents": -20.0}, "pitch_sinks"),
        ({"level_spread_db": 2.0}, "level_wavers"),
        ({"level_drift_db_per_s": -0.9}, "level_fades"),
        ({"level_drift_db_per_s": 0.9}, "level_grows"),
        ({"collapse_at_s": 3.0}, "level_collapses"),
        ({"dropouts": 1}, "tone_drops_out"),
        ({"attack": replace(GOOD, cracked=True, cracked_at_s=1.02)}, "cracks"),
        ({"attack": replace(GOOD, scoop_cents=-40.0)}, "starts_below"),
        ({"attack": replace(GOOD, scoop_cents=40.0)}, "starts_above"),
        ({"attack": replace(GOOD, settle_s=0.5)}, "settles_late"),
        ({"attack": replace(GOOD, air_before_s=0.3)}, "starts_with_air"),
        ({"attack": replace(GOOD, double_start=True)}, "starts_twice"),
        ({"attack": replace(GOOD, rise_s=0.4)}, "starts_late"),
    ],
)
def test_one_thing_amiss_makes_a_miss_and_says_which_and_where(change: dict[str, Any], code: str) -> None:
    found = verdict(tone(**change))
    assert (found.outcome, missed(found)) == ("miss", [code])
    (wrong,) = [c for c in found.checks if c.verdict == "missed"]
    assert wrong.code in all_words()
    if wrong.part not in ("dropouts",):
        assert wrong.at_s is not None
        assert wrong.at_s[0] < wrong.at_s[1]


def test_another_note_is_a_miss_and_nothing_else_of_it_is_judged() -> None:
    found = verdict(tone(written_midi=73, pitch_cents=40.0))
    assert (found.outcome, missed(found), len(found.checks)) == ("miss", ["other_note"], 1)


def test_a_slow_rise_alone_is_advice_until_it_is_twice_the_limit() -> None:
    found = verdict(tone(attack=replace(GOOD, rise_s=0.15)))
    assert (found.outcome, missed(found)) == ("hit", ["starts_late"])
    assert not check(found, "rise_s").must


def test_at_most_four_things_must_be_so_and_level_joins_them_when_the_scale_is_known() -> None:
    plain = {c.measure for c in verdict(tone()).checks if c.must}
    assert plain - {"crack"} == {"note", "pitch", "steadiness", "start"}
    assert {c.measure for c in verdict(tone(), scale=LevelScale(-40.0, -12.0)).checks if c.must} - plain == {"level"}
    asked = replace(ASKED, shape="swell")
    assert {c.measure for c in verdict(tone(shape=SWELL), asked).checks if c.must} - {"crack"} == {
        "note",
        "pitch",
        "shape",
        "start",
    }
    waves = verdict(tone(vibrato=WAVES), replace(ASKED, pulses_per_second=5.0))
    assert {c.measure for c in waves.checks if c.must} - {"crack"} == {"note", "pitch", "vibrato", "start"}


def test_nearer_to_the_limit_than_the_reading_can_tell_is_no_miss() -> None:
    unsure = tone(pitch_cents=13.0, uncertainty={"pitch_cents": 2.0})
    found = verdict(unsure)
    assert check(found, "pitch_cents").verdict == "unsure"
    assert found.outcome == "hit"
    assert verdict(replace(unsure, uncertainty={"pitch_cents": 0.5})).outcome == "miss"


def test_noise_can_only_make_a_spread_larger_so_a_small_one_is_met() -> None:
    shaky = tone(pitch_spread_cents=5.5, uncertainty={"pitch_spread_cents": 3.0})
    assert check(verdict(shaky), "pitch_spread_cents").verdict == "met"
    assert check(verdict(replace(shaky, pitch_spread_cents=7.0)), "pitch_spread_cents").verdict == "unsure"


def test_a_tone_that_could_not_be_read_is_neither_hit_nor_miss_and_says_why() -> None:
    found = verdict(tone(readable=False, reasons=("room_too_loud",), pitch_cents=90.0))
    assert (found.outcome, found.checks, found.reasons) == ("unreadable", (), ("room_too_loud",))
    assert not_heard().outcome == "unreadable"
    assert not_heard().reasons == ("not_heard",)


def test_a_tone_whose_steadiness_the_room_hides_is_unreadable_unless_something_else_was_missed() -> None:
    hidden = {"pitch_spread_cents": "room_hides_steadiness"}
    found = verdict(tone(hidden=hidden))
    assert (found.outcome, found.reasons) == ("unreadable", ("room_hides_steadiness",))
    assert verdict(tone(hidden=hidden, pitch_cents=40.0)).outcome == "miss"


def test_gain_control_hides_the_level_and_pitch_and_start_still_count() -> None:
    wobbling = tone(level_spread_db=3.0, level_drift_db_per_s=2.0, collapse_at_s=3.0)
    found = verdict(wobbling, scale=LevelScale(-40.0, -12.0), levelled=True)
    assert (found.outcome, found.reasons) == ("hit", ("level_control_suspected",))
    assert verdict(replace(wobbling, pitch_cents=40.0), levelled=True).outcome == "miss"


def test_a_swell_that_the_phone_levelled_cannot_be_told() -> None:
    asked = replace(ASKED, shape="swell")
    found = verdict(tone(shape=replace(SWELL, range_db=3.0, met=False)), asked, levelled=True)
    assert (found.outcome, found.reasons) == ("unreadable", ("level_control_suspected",))
