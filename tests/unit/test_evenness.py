"""Evenness over the range: a trend odd notes cannot bend, holes ranked, none invented, passes and spots compared."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
import pytest

from analysis.core import evenness
from analysis.core.records import Colour, Evenness, ShapeReading, Tone
from tests.unit.made import tone

RANGE = range(58, 91)
DRY = 30.0


def run(
    notes: Sequence[int] = RANGE,
    *,
    level: Mapping[int, float] | None = None,
    colour: Mapping[int, float] | None = None,
    pitch: Mapping[int, float] | None = None,
    witness: Mapping[int, float] | None = None,
    rough: float = 1.0,
    seed: int = 1,
) -> list[Tone]:
    """A run with a smooth trend, a little roughness, and what is added to single notes (dB, ln, cents).

    ``witness``: what the partials counted alike move by, where that is not the level's move.
    """
    rng = np.random.default_rng(seed)
    level, colour, pitch = level or {}, colour or {}, pitch or {}
    tones = []
    for index, note in enumerate(notes):
        away = (note - 74) / 16.0
        trend_db = -20.0 - 1.5 * away**2 + rough * rng.normal(0.0, 0.25)
        moved_db = (witness if witness is not None else level).get(note, 0.0)
        brightness = np.log(1200.0 + 300.0 * away) + rough * rng.normal(0.0, 0.04) + colour.get(note, 0.0)
        tones.append(
            tone(
                index=index,
                written_midi=note,
                level_db=trend_db + level.get(note, 0.0),
                pitch_cents=rough * rng.normal(0.0, 1.0) + pitch.get(note, 0.0),
                colour=Colour(centroid_hz=float(np.exp(brightness)), partials_db=trend_db - 8.0 + moved_db),
            )
        )
    return tones


def holes(found: Evenness) -> list[tuple[int, str]]:
    return [(hole.written_midi, hole.kind) for hole in found.holes]


@pytest.mark.parametrize("seed", range(20))
def test_an_even_run_has_no_holes(seed: int) -> None:
    assert holes(evenness.read(run(seed=seed), direct_over_room_db=DRY)) == []


def test_a_smooth_trend_is_no_unevenness() -> None:
    found = evenness.read(run(rough=0.0), direct_over_room_db=DRY)
    assert found.level_sd_db == pytest.approx(0.0, abs=1e-3)
    assert found.pitch_sd_cents == 0.0


@pytest.mark.parametrize("size", [8.0, -8.0, -5.0])
def test_a_level_hole_is_found_with_its_size(size: float) -> None:
    found = evenness.read(run(level={74: size}), direct_over_room_db=DRY)
    assert holes(found) == [(74, "level")]
    assert found.holes[0].size == pytest.approx(size, abs=0.6)
    assert (found.holes[0].unit, found.holes[0].index) == ("dB", 74 - 58)


@pytest.mark.parametrize("note", [58, 90])
def test_a_hole_at_the_end_of_the_range_is_found_too(note: int) -> None:
    assert (note, "level") in holes(evenness.read(run(level={note: -7.0}), direct_over_room_db=DRY))


def test_a_pitch_that_lies_off_is_found_with_its_side() -> None:
    found = evenness.read(run(pitch={66: 25.0, 70: -15.0}), direct_over_room_db=DRY)
    assert holes(found) == [(66, "pitch"), (70, "pitch")]
    assert [hole.size for hole in found.holes] == pytest.approx([25.0, -15.0], abs=3.0)


def test_a_dull_note_is_found_in_percent() -> None:
    found = evenness.read(run(colour={67: np.log(0.5), 71: np.log(2.0)}), direct_over_room_db=DRY)
    assert holes(found) == [(71, "colour"), (67, "colour")]
    assert [hole.size for hole in found.holes] == pytest.approx([100.0, -50.0], abs=8.0)


def test_the_notes_after_the_breaks_may_differ_by_nature() -> None:
    assert holes(evenness.read(run(colour={74: -0.42}), direct_over_room_db=DRY)) == []
    assert holes(evenness.read(run(colour={72: -0.42}), direct_over_room_db=DRY)) == [(72, "colour")]


def test_the_worst_comes_first_whatever_its_kind() -> None:
    found = evenness.read(run(level={62: -6.0}, pitch={80: 48.0}), direct_over_room_db=DRY)
    assert holes(found) == [(80, "pitch"), (62, "level")]


def test_three_odd_notes_do_not_bend_the_trend() -> None:
    found = evenness.read(run(level={60: -9.0, 61: -9.0, 62: -9.0}), direct_over_room_db=DRY)
    assert set(holes(found)) == {(60, "level"), (61, "level"), (62, "level")}


def test_in_a_room_a_level_hole_needs_the_partials_as_its_witness() -> None:
    alone = run(level={72: -9.0}, witness={72: -2.0})
    assert holes(evenness.read(alone, direct_over_room_db=5.0)) == []
    assert holes(evenness.read(alone, direct_over_room_db=DRY)) == [(72, "level")]
    assert holes(evenness.read(run(level={72: -9.0}), direct_over_room_db=5.0)) == [(72, "level")]


def test_a_dull_note_as_loud_as_the_others_is_no_hole_of_level_in_a_room_either() -> None:
    dull = run(level={72: 0.5}, witness={72: -17.0}, colour={72: -0.8})
    found = evenness.read(dull, direct_over_room_db=5.0)
    assert holes(found) == [(72, "colour")]
    assert found.unsure == ()


def test_what_a_room_alone_can_do_is_no_hole_and_is_named_until_three_spots_settle_it() -> None:
    odd = {72: -7.5, 65: 6.5, 60: 4.0}  # the last: no more than a room does to most notes
    found = evenness.read(run(level=odd), direct_over_room_db=0.0)
    assert holes(found) == []
    assert [(hole.written_midi, hole.kind) for hole in found.unsure] == [(72, "level"), (65, "level")]
    assert [hole.size for hole in found.unsure] == pytest.approx([-7.5, 6.5], abs=0.8)
    assert evenness.cautions(found) == ()
    assert evenness.of_spots([run(level=odd, seed=n) for n in range(3)], direct_over_room_db=0.0).unsure == ()
    assert evenness.read(run(level={72: -2.5}), direct_over_room_db=0.0).unsure == ()


@pytest.mark.parametrize("notes", [range(62, 73), (58, 62, 67, 72, 74, 79, 86, 90), range(58, 91, 3)])
def test_a_few_tones_or_leaps_are_no_run_and_nothing_in_them_is_put_down_to_the_room(notes: Sequence[int]) -> None:
    found = evenness.read(run(notes, level={notes[3]: -7.0}), direct_over_room_db=0.0)
    assert (holes(found), found.unsure) == ([], ())


def test_without_a_room_nothing_is_put_down_to_it() -> None:
    found = evenness.read(run(level={72: -8.0}), direct_over_room_db=DRY)
    assert (holes(found), found.unsure) == ([(72, "level")], ())


def test_holes_from_one_room_carry_a_caution_and_those_of_pitch_do_not() -> None:
    found = evenness.read(run(level={72: -9.0}, pitch={66: 25.0}), direct_over_room_db=5.0)
    cautions = evenness.cautions(found)
    assert [caution.code for caution in cautions] == ["room_may_explain"]
    assert cautions[0].indices == (72 - 58,)
    assert evenness.cautions(replace(found, direct_over_room_db=DRY)) == ()
    assert evenness.cautions(replace(found, direct_over_room_db=None)) == cautions
    assert evenness.cautions(replace(found, spots=3)) == ()
    assert evenness.cautions(evenness.read(run(pitch={66: 25.0}), direct_over_room_db=5.0)) == ()


def test_the_error_bar_is_the_rooms_and_shrinks_with_three_spots() -> None:
    near = evenness.read(run(), direct_over_room_db=10.0)
    far = evenness.read(run(), direct_over_room_db=0.0)
    assert (near.level_error_db, far.level_error_db) == (1.0, 2.1)
    soft = evenness.read(run(), direct_over_room_db=0.0, dynamic="pp")
    assert soft.level_error_db == 4.3
    spots = evenness.of_spots([run(seed=n) for n in range(3)], direct_over_room_db=0.0)
    assert spots.level_error_db == pytest.approx(0.67 * 2.1)
    assert spots.spots == 3


def test_a_hole_that_one_spot_makes_is_gone_with_three() -> None:
    runs = [run(level={72: -9.0}, seed=1), run(level={80: 8.0}, seed=2), run(seed=3)]
    assert holes(evenness.of_spots(runs)) == []


def test_a_hole_that_three_spots_agree_on_stands() -> None:
    runs = [run(level={72: -9.0 + n}, seed=n) for n in range(3)]
    found = evenness.of_spots(runs)
    assert holes(found) == [(72, "level")]
    assert found.holes[0].size == pytest.approx(-8.0, abs=0.8)


def test_up_and_down_the_passes_of_each_note_are_compared() -> None:
    order = [*range(60, 73), *range(72, 59, -1)]
    tones = [
        tone(index=n, written_midi=note, level_db=-20.0 - (4.0 if n == 20 else 0.0), pitch_cents=10.0 * (n > 12))
        for n, note in enumerate(order)
    ]
    found = evenness.read(tones, direct_over_room_db=DRY)
    assert len(found.repeats) == 13
    worst = found.repeats[0]
    assert worst.written_midi == order[20]
    assert worst.indices == (order.index(order[20]), 20)
    assert worst.level_range_db == pytest.approx(4.0)
    assert worst.pitch_range_cents == pytest.approx(10.0)


def test_a_note_counts_by_the_median_of_its_passes() -> None:
    order = [*RANGE, *reversed(RANGE), *RANGE]
    tones = run(order)
    tones[14] = replace(tones[14], level_db=tones[14].level_db - 9.0)
    assert holes(evenness.read(tones, direct_over_room_db=DRY)) == []


@pytest.mark.parametrize("count", [0, 1, 3])
def test_fewer_than_four_notes_have_no_evenness(count: int) -> None:
    found = evenness.read(run(range(60, 60 + count)), direct_over_room_db=DRY)
    assert (found.level_sd_db, found.colour_sd_pct, found.pitch_sd_cents, found.holes) == (None, None, None, ())


def test_tones_that_could_not_be_read_swells_and_overtones_do_not_count() -> None:
    odd = [
        tone(index=40, written_midi=60, level_db=-60.0, readable=False),
        tone(index=41, written_midi=61, level_db=-60.0, shape=ShapeReading("swell")),
        tone(index=42, written_midi=62, level_db=-60.0, partial=3),
    ]
    assert holes(evenness.read([*run(range(63, 80)), *odd], direct_over_room_db=DRY)) == []


def test_a_level_that_the_phone_controlled_is_not_measured() -> None:
    tones = [replace(one, hidden={"level_db": "level_control_suspected"}) for one in run(level={72: -9.0})]
    found = evenness.read(tones, direct_over_room_db=DRY)
    assert found.level_sd_db is None
    assert found.pitch_sd_cents is not None
    assert holes(found) == []
