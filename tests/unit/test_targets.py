"""Targets: the tables, their exceptions, and a teacher's changes laid over them."""

from __future__ import annotations

from dataclasses import fields
from itertools import product
from typing import Any

import pytest

from analysis.core.records import Target
from analysis.core.targets import (
    LEVELS,
    MEASURES,
    TONES,
    dynamics,
    is_within,
    mark_place,
    rows,
    share,
    target_for,
    widened,
)


def limits(level: str = "intermediate", note: int = 72, tone: str = "mf", **more: Any) -> Target:
    return target_for(level, note, tone, lowest=58, highest=90, **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("measure", "values"),
    [
        ("pitch_cents", (20.0, 12.0, 8.0)),
        ("pitch_spread_cents", (10.0, 6.0, 3.5)),
        ("pitch_drift_cents_per_s", (3.0, 2.0, 1.0)),
        ("level_spread_db", (1.5, 1.0, 0.7)),
        ("level_drift_db_per_s", (0.6, 0.35, 0.2)),
        ("rise_s", (0.15, 0.1, 0.07)),
        ("scoop_cents", (35.0, 20.0, 12.0)),
        ("settle_s", (0.3, 0.18, 0.12)),
        ("air_before_s", (0.2, 0.12, 0.08)),
        ("sag_cents", (30.0, 20.0, 12.0)),
        ("straightness", (0.8, 0.88, 0.93)),
        ("pulse_share", (0.15, 0.1, 0.07)),
    ],
)
def test_each_level_has_its_own_limit(measure: str, values: tuple[float, ...]) -> None:
    assert tuple(getattr(limits(level), measure) for level in LEVELS) == values


def test_no_limit_gets_easier_from_one_level_to_the_next() -> None:
    larger_is_stricter = {
        "hnr_db",
        "shape_range_db",
        "smallest_step_db",
        "steps_at_least",
        "peak_from",
        "slope_ratio_from",
        "straightness",
        "extent_from_cents",
    }
    for row in rows():
        values = [row.limits[level] for level in LEVELS]
        assert values == sorted(values, reverse=row.measure not in larger_is_stricter), row.measure


@pytest.mark.parametrize("tone", ["ppp", "fff"])
def test_the_extreme_marks_get_more_room_in_pitch(tone: str) -> None:
    assert limits(tone=tone).pitch_cents == 20.0
    assert limits("beginner", tone=tone).pitch_cents == 30.0


@pytest.mark.parametrize(("note", "cents"), [(58, 20.0), (59, 20.0), (60, 12.0), (88, 12.0), (89, 20.0), (90, 20.0)])
def test_so_do_the_ends_of_the_students_own_range(note: int, cents: float) -> None:
    assert limits(note=note).pitch_cents == cents


def test_a_shorter_range_has_its_ends_elsewhere() -> None:
    assert target_for("intermediate", 65, "mf", lowest=65, highest=77).pitch_cents == 20.0


@pytest.mark.parametrize(("note", "rise_s"), [(57, 0.15), (58, 0.15), (61, 0.15), (62, 0.1)])
def test_bell_notes_may_take_longer_to_speak(note: int, rise_s: float) -> None:
    assert target_for("intermediate", note, "mf", lowest=57, highest=90).rise_s == pytest.approx(rise_s)


def test_an_overtone_is_given_30_to_35_cents_whatever_is_fingered() -> None:
    assert [limits(level, 58, partial=3).pitch_cents for level in LEVELS] == [35.0, 30.0, 30.0]
    assert limits(note=58, partial=3).rise_s == pytest.approx(0.1)


def change(measure: str, value: float | None, on: str = "2026-03-01", **where: Any) -> dict[str, Any]:
    return {"measure": measure, "value": value, "from": on, **where}


def test_a_teachers_change_stands_above_the_table() -> None:
    assert limits(changes=[change("pitch_cents", 15.0)]).pitch_cents == 15.0
    assert limits(changes=[change("pitch_cents", 15.0, written_midi=73)]).pitch_cents == 12.0
    assert limits(changes=[change("pitch_cents", 15.0, tone="pp")]).pitch_cents == 12.0


def test_what_is_said_for_one_note_stands_above_what_is_said_for_all_even_if_older() -> None:
    said = [change("pitch_cents", 25.0, "2026-03-01", written_midi=72), change("pitch_cents", 15.0, "2026-03-20")]
    assert limits(changes=said).pitch_cents == 25.0
    assert limits(note=70, changes=said).pitch_cents == 15.0


def test_among_equals_the_later_date_stands_and_of_one_date_the_later_word() -> None:
    said = [
        change("rise_s", 0.2, "2026-03-09"),
        change("rise_s", 0.3, "2026-03-02"),
        change("rise_s", 0.25, "2026-03-09"),
    ]
    assert limits(changes=said).rise_s == 0.25


def test_a_change_counts_from_its_day_on() -> None:
    said = [change("scoop_cents", 30.0, "2026-03-10")]
    assert limits(changes=said, on="2026-03-09").scoop_cents == 20.0
    assert limits(changes=said, on="2026-03-10").scoop_cents == 30.0
    assert limits(changes=said).scoop_cents == 30.0


def test_a_change_to_nothing_goes_back_to_the_table() -> None:
    said = [change("scoop_cents", 30.0, "2026-03-01"), change("scoop_cents", None, "2026-03-08")]
    assert limits(changes=said).scoop_cents == 20.0


def test_this_horns_own_lie_on_a_note_is_a_change_like_any_other() -> None:
    assert limits().note_offset_cents == 0.0
    assert limits(changes=[change("note_offset_cents", -12.0, written_midi=72)]).note_offset_cents == -12.0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ({"level": "expert"}, "beginner, intermediate, advanced"),
        ({"tone": "mezzo"}, "ppp"),
        ({"changes": [change("pitch", 3.0)]}, "pitch_cents"),
    ],
)
def test_what_does_not_exist_is_refused_with_what_does(arguments: dict[str, Any], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        limits(**arguments)


def test_every_field_has_a_row_and_every_row_a_field() -> None:
    assert {row.measure for row in rows()} | {"note_offset_cents"} == set(MEASURES) == {f.name for f in fields(Target)}


def test_every_level_note_and_tone_has_its_limits() -> None:
    for level, note, tone in product(LEVELS, (57, 58, 72, 90), TONES):
        assert isinstance(limits(level, note, tone), Target)


def test_every_row_says_where_it_comes_from_and_a_house_row_why() -> None:
    for row in rows():
        assert row.unit, row.measure
        assert row.source, row.measure
        assert row.where, row.measure
        assert row.kind in ("published", "standard", "common_practice", "house")
        assert row.why or row.kind != "house"
        assert set(row.when) <= {*TONES, "range_end", "bell", "overtone"}


def test_the_eight_marks_lie_a_step_apart() -> None:
    marks = ("ppp", "pp", "p", "mp", "mf", "f", "ff", "fff")
    assert [mark_place(mark) for mark in marks] == list(range(8))  # type: ignore[arg-type]
    assert dynamics()["scale"]["steps"] == 7


@pytest.mark.parametrize(
    ("measure", "value", "limit", "taken_up"),
    [
        ("pitch_cents", 18.0, 12.0, 1.5),
        ("sag_cents", -4.0, 20.0, 0.0),
        ("shape_range_db", 7.0, 14.0, 2.0),
        ("shape_range_db", 0.0, 14.0, 1000.0),
        ("peak_from", 0.35, 0.4, 1.5),
        ("peak_from", 0.55, 0.4, 0.0),
        ("peak_to", 0.55, 0.6, 0.5),
        ("slope_ratio_to", 1.9, 1.6, 1.5),
        ("straightness", 0.94, 0.88, 0.5),
    ],
)
def test_how_much_of_a_limit_is_taken_up(measure: str, value: float, limit: float, taken_up: float) -> None:
    """By hand: at most, the value over the limit; at least, the other way round; about a middle, by the distances."""
    assert share(measure, value, limit) == pytest.approx(taken_up)
    assert is_within(measure, value, limit) is (taken_up <= 1.0)


@pytest.mark.parametrize("measure", [name for name in MEASURES if name != "note_offset_cents"])
def test_a_limit_made_so_wide_just_holds_what_took_up_so_much(measure: str) -> None:
    limit = getattr(limits(), measure)
    for factor in (0.5, 1.0, 1.75):
        assert share(measure, widened(measure, limit, factor), limit) == pytest.approx(factor)


def test_a_factor_for_what_must_be_at_least_makes_the_number_smaller() -> None:
    said = [
        {"measure": name, "factor": 1.5, "from": "2026-03-01"} for name in ("shape_range_db", "peak_from", "peak_to")
    ]
    swell = limits(tone="swell", changes=said)
    assert (swell.shape_range_db, swell.peak_from, swell.peak_to) == pytest.approx((14.0 / 1.5, 0.35, 0.65))
