"""The judge on shapes, marks, overtones and vibrato, and the moment it sends the listener to."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from analysis.core.judge import judge
from analysis.core.records import Asked, Attack, Course, LevelScale, Release, ShapeReading, Vibrato
from analysis.core.targets import target_for
from tests.unit.judged import ASKED, GOOD, SWELL, WAVES, check, missed, verdict
from tests.unit.made import QUIET, tone


@pytest.mark.parametrize(
    ("shape", "code"),
    [
        (replace(SWELL, peak_at=0.2), "swell_turns_early"),
        (replace(SWELL, range_db=9.0), "shape_too_small"),
        (replace(SWELL, worst_backwards_db=3.0), "shape_turns_back"),
        (replace(SWELL, straightness=0.5), "shape_jumps"),
        (replace(SWELL, ends_differ_db=7.0), "swell_ends_apart"),
        (replace(SWELL, pitch_range_cents=30.0), "shape_moves_pitch"),
        (replace(SWELL, rise_db_per_s=12.0), "swell_first_half_faster"),
        (replace(SWELL, fall_db_per_s=12.0), "swell_second_half_faster"),
    ],
)
def test_a_swell_is_judged_by_its_shape_and_not_by_a_level_that_moves(shape: ShapeReading, code: str) -> None:
    asked = replace(ASKED, shape="swell")
    moving = {"level_spread_db": 6.0, "level_drift_db_per_s": 4.0, "pitch_spread_cents": 9.0, "collapse_at_s": 3.0}
    assert verdict(tone(shape=SWELL, **moving), asked).outcome == "hit"
    found = verdict(tone(shape=replace(shape, met=False), **moving), asked)
    assert (found.outcome, missed(found)) == ("miss", [code])


def test_every_question_put_to_a_shape_has_its_number_and_its_limit() -> None:
    found = verdict(tone(shape=SWELL), replace(ASKED, shape="swell"))
    asked_of = {c.part: (c.value, c.limit) for c in found.checks if c.measure == "shape"}
    assert asked_of["straightness"] == (SWELL.straightness, 0.88)
    assert asked_of["peak_from"] == (SWELL.peak_at, 0.4)
    assert asked_of["peak_to"] == (SWELL.peak_at, 0.6)
    assert set(asked_of) == {
        *("backwards_db", "shape_range_db", "peak_from", "peak_to", "slope_ratio_from", "slope_ratio_to"),
        *("straightness", "ends_differ_db", "shape_pitch_range_cents"),
    }


@pytest.mark.parametrize("range_db", [13.8, 14.2])
def test_a_range_nearer_to_its_limit_than_can_be_told_is_no_miss(range_db: float) -> None:
    near = tone(shape=replace(SWELL, range_db=range_db), uncertainty={"range_db": 0.4})
    found = verdict(near, replace(ASKED, shape="swell"))
    assert (found.outcome, check(found, "shape_range_db").verdict) == ("hit", "unsure")


def test_the_rise_of_a_swell_is_its_shape_and_not_its_start() -> None:
    asked = replace(ASKED, shape="swell")
    assert verdict(tone(shape=SWELL, attack=replace(GOOD, rise_s=0.5)), asked).outcome == "hit"


@pytest.mark.parametrize(
    ("dynamic", "level_db"), [("ppp", -40.0), ("mf", -24.0), ("fff", -12.0), ("f", -24.0), ("pp", -31.0)]
)
def test_a_mark_is_looked_for_coarsely_on_the_players_own_scale(dynamic: str, level_db: float) -> None:
    asked = replace(ASKED, dynamic=dynamic)
    assert verdict(tone(level_db=level_db), asked, scale=LevelScale(-40.0, -12.0)).outcome == "hit"


@pytest.mark.parametrize(
    ("dynamic", "level_db", "code"), [("pp", -20.0, "too_loud"), ("ff", -28.0, "too_soft"), ("mf", -36.0, "too_soft")]
)
def test_a_mark_far_from_its_place_is_a_miss(dynamic: str, level_db: float, code: str) -> None:
    asked = replace(ASKED, dynamic=dynamic)
    assert missed(verdict(tone(level_db=level_db), asked, scale=LevelScale(-40.0, -12.0))) == [code]
    assert missed(verdict(tone(level_db=level_db), asked)) == []


def test_softer_than_the_softest_is_still_soft() -> None:
    asked = replace(ASKED, dynamic="ppp")
    assert verdict(tone(level_db=-55.0), asked, scale=LevelScale(-40.0, -12.0)).outcome == "hit"


def test_a_scale_without_steps_tells_nothing() -> None:
    found = verdict(tone(level_db=-20.0), scale=LevelScale(-20.0, -18.5))
    assert (found.outcome, check(found, "level_db").verdict) == ("hit", "not_measured")


OVERTONE = Asked(written_midi=58, partial=3)


def test_of_an_overtone_the_partial_comes_first_and_then_its_pitch_with_more_room() -> None:
    heard = tone(written_midi=58, partial=3, pitch_cents=26.0)
    assert verdict(heard, OVERTONE).outcome == "hit"
    assert missed(verdict(replace(heard, partial=2), OVERTONE)) == ["other_partial"]
    assert missed(verdict(replace(heard, pitch_cents=40.0), OVERTONE)) == ["pitch_high"]
    assert missed(verdict(replace(heard, pitch_cents=33.0), OVERTONE, level="beginner")) == []


WAVED = replace(ASKED, pulses_per_second=5.0)


def test_waves_at_the_pulse_are_a_hit_even_where_a_room_shakes_the_level() -> None:
    assert verdict(tone(vibrato=WAVES, level_spread_db=3.0, pitch_spread_cents=8.0), WAVED).outcome == "hit"


@pytest.mark.parametrize(
    ("waves", "code"),
    [
        (Vibrato(present=False), "vibrato_not_there"),
        (replace(WAVES, rate_hz=4.2), "vibrato_slow"),
        (replace(WAVES, rate_hz=5.9), "vibrato_fast"),
    ],
)
def test_no_waves_or_waves_beside_the_pulse_are_a_miss(waves: Vibrato, code: str) -> None:
    found = verdict(tone(vibrato=waves), WAVED)
    assert (found.outcome, missed(found)) == ("miss", [code])


def test_wide_uneven_waves_are_advice_and_narrow_ones_nothing_at_all() -> None:
    found = verdict(tone(vibrato=replace(WAVES, extent_cents=70.0, rate_cv=0.25)), WAVED)
    assert (found.outcome, missed(found)) == ("hit", ["vibrato_wide", "vibrato_uneven"])
    assert missed(verdict(tone(vibrato=replace(WAVES, extent_cents=5.0)), WAVED)) == []


def test_a_wave_that_dips_below_a_true_note_may_be_right_at_its_upper_edge() -> None:
    assert verdict(tone(vibrato=WAVES, pitch_cents=-20.0), WAVED).outcome == "hit"
    assert missed(verdict(tone(vibrato=WAVES, pitch_cents=20.0), WAVED)) == ["pitch_high"]


def test_waves_that_nobody_asked_for_are_mentioned_and_decide_nothing() -> None:
    found = verdict(tone(vibrato=WAVES, level_spread_db=2.0))
    assert (found.outcome, missed(found)) == ("hit", ["vibrato_unasked"])


def test_how_a_tone_stops_and_how_much_air_is_in_it_are_advice() -> None:
    found = verdict(tone(release=Release("bumped", -40.0, 0.1), hnr_db=9.0))
    assert found.outcome == "hit"
    assert missed(found) == ["ends_sagging", "ends_with_bump", "airy"]


def test_air_that_a_codec_or_a_room_may_have_made_is_not_mentioned() -> None:
    assert missed(verdict(tone(hnr_db=9.0, hidden={"hnr_db": "room_hides_noise"}))) == []


def bulging(at_s: float, size: float) -> Course:
    times_s = 1.0 + np.arange(200) * 0.02
    cents = size * np.exp(-np.square((times_s - at_s) / 0.4))
    return Course(0.02, tuple(cents.tolist()), (-22.0,) * 200)


@pytest.mark.parametrize(("size", "code"), [(30.0, "pitch_bulges_up"), (-30.0, "pitch_bulges_down")])
def test_the_moment_where_the_pitch_strays_is_the_moment_to_hear(size: float, code: str) -> None:
    found = verdict(tone(course=bulging(3.2, size), pitch_spread_cents=9.0))
    wrong = check(found, "pitch_spread_cents")
    assert wrong.code == code
    assert wrong.at_s is not None
    assert wrong.at_s[0] < 3.2 < wrong.at_s[1]
    assert wrong.at_s[1] - wrong.at_s[0] < 1.6


def test_a_tone_that_lies_high_is_to_be_heard_where_it_leaves_the_shade() -> None:
    times_s = 1.0 + np.arange(200) * 0.02
    course = Course(0.02, tuple(np.where(times_s < 3.5, 20.0, 2.0).tolist()), (-22.0,) * 200)
    place = check(verdict(tone(course=course, pitch_cents=20.0)), "pitch_cents").at_s
    assert place == pytest.approx((1.2, 3.5), abs=0.15)


def test_a_slurred_start_is_not_judged() -> None:
    found = verdict(tone(attack=Attack()))
    assert found.outcome == "hit"
    assert {c.verdict for c in found.checks if c.part in ("air_before_s", "scoop_cents", "settle_s", "rise_s")} == {
        "not_measured"
    }


def test_this_horns_own_lie_on_the_note_is_taken_off() -> None:
    target = replace(target_for("intermediate", 72, "mf", lowest=58, highest=90), note_offset_cents=18.0)
    assert judge(tone(pitch_cents=20.0), ASKED, target, QUIET, None).outcome == "hit"
    assert judge(tone(pitch_cents=0.0), ASKED, target, QUIET, None).outcome == "miss"
