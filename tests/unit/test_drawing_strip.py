"""The strip of one tone: where its string, its strokes, its board and its stakes lie."""

import re
from itertools import pairwise

import pytest

from analysis import drawing
from analysis.core.records import LevelScale
from analysis.drawing.level import DYNAMICS, board, height_of
from analysis.drawing.pitch import ALLOWANCE_HEIGHT, STRING_Y
from analysis.drawing.strip import Strip
from tests.unit.drawn_tones import between, target, tone

SCALE = LevelScale(softest_db=-40.0, loudest_db=-12.0)


def points(path: str) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in re.findall(r"(-?[\d.]+) (-?[\d.]+)", path)]


def stroke_tops(path: str) -> list[float]:
    return [float(top) for top in re.findall(r"V([\d.]+)", path)]


def stroke_places(path: str) -> list[float]:
    return [float(x) for x in re.findall(r"M([\d.]+) ", path)]


def board_top(strip: Strip) -> float:
    return points(strip.board)[0][1]


def test_a_tone_in_tune_lies_on_the_string_and_leaves_nothing_outside() -> None:
    strip = drawing.strip(tone(), target=target())
    assert {y for _, y in points(strip.string)} == {STRING_Y}
    assert (strip.outside, strip.outside_here, strip.beats_outside) == ("", "", ())


def test_a_tone_at_the_edge_of_its_allowance_lies_at_the_edge_of_the_shade() -> None:
    strip = drawing.strip(tone(lambda at_s: 10.0), target=target(pitch_cents=10.0))
    assert {y for _, y in points(strip.string)} == {strip.shade_top} == {STRING_Y - ALLOWANCE_HEIGHT}
    assert strip.outside == ""


def test_a_horns_own_lie_moves_the_string_not_the_tone() -> None:
    strip = drawing.strip(tone(lambda at_s: -14.0), target=target(note_offset_cents=-14.0))
    assert {y for _, y in points(strip.string)} == {STRING_Y}


def test_what_leaves_the_shade_is_filled_and_its_beats_are_named() -> None:
    strip = drawing.strip(tone(between(4.0, 6.0, 20.0)), target=target())
    filled = points(strip.outside)
    assert min(x for x, _ in filled) == pytest.approx(500, abs=10)
    assert max(x for x, _ in filled) == pytest.approx(750, abs=10)
    assert max(y for _, y in filled) == strip.shade_top
    assert strip.beats_outside == (5, 6)


def test_a_brush_against_the_edge_names_no_beat() -> None:
    assert drawing.strip(tone(between(4.0, 4.15, 20.0)), target=target()).beats_outside == ()


def test_only_what_lies_between_the_stakes_is_here() -> None:
    strip = drawing.strip(tone(between(4.0, 6.0, -20.0)), target=target(), flagged=(8.0, 11.0))
    assert strip.stakes == (625.0, 1000.0)
    assert strip.outside
    assert strip.outside_here
    assert max(x for x, _ in points(strip.outside)) == 625.0
    assert min(x for x, _ in points(strip.outside_here)) == 625.0
    assert strip.beats_flagged == (6, 7, 8)


def test_a_line_that_crosses_the_whole_shade_is_filled_on_both_sides() -> None:
    strip = drawing.strip(tone(lambda at_s: 25.0 if at_s < 4 else -25.0), target=target())
    ys = [y for _, y in points(strip.outside)]
    assert min(ys) < strip.shade_top
    assert max(ys) > strip.shade_top + strip.shade_height


def test_pitch_beyond_what_is_shown_stays_inside_the_picture() -> None:
    strip = drawing.strip(tone(lambda at_s: 900.0), target=target())
    assert {y for _, y in points(strip.string)} == {STRING_Y - 3 * ALLOWANCE_HEIGHT}


def test_the_string_has_a_gap_where_no_pitch_was_read() -> None:
    strip = drawing.strip(tone(lambda at_s: None if 3 <= at_s < 4 else 0.0), target=target())
    assert strip.string.count("M") == 2
    assert not [x for x, _ in points(strip.string) if 380 < x < 495]


def test_a_pitch_that_is_not_a_number_is_a_gap_too() -> None:
    assert drawing.strip(tone(between(3, 4, float("nan"))), target=target()).string.count("M") == 2


def test_without_a_target_there_is_no_shade_and_nothing_outside() -> None:
    strip = drawing.strip(tone(lambda at_s: 40.0))
    assert not strip.shade
    assert strip.outside == ""


@pytest.mark.parametrize("dynamic", DYNAMICS)
def test_a_tone_at_its_own_level_just_reaches_its_board(dynamic: str) -> None:
    level = -40.0 + 4.0 * DYNAMICS.index(dynamic)  # type: ignore[arg-type] # the parameter is one of them
    strip = drawing.strip(tone(level_db=lambda at_s: level), dynamic=dynamic, scale=SCALE)  # type: ignore[arg-type]
    assert set(stroke_tops(strip.strokes)) == {board_top(strip)}


def test_soft_reaches_four_tenths_and_loud_nine_of_the_zone() -> None:
    assert (height_of("ppp"), height_of("fff")) == (0.40, 0.92)


def level_top(level_db: float) -> float:
    return stroke_tops(drawing.strip(tone(level_db=lambda at_s: level_db), scale=SCALE).strokes)[0]


def test_a_louder_tone_is_higher_and_none_leaves_the_picture() -> None:
    tops = [level_top(level_db) for level_db in (-120.0, -40.0, -30.0, -12.0, 0.0, 20.0)]
    assert tops == sorted(tops, reverse=True)
    assert min(tops) >= 550
    assert max(tops) < 1000


def test_without_a_scale_a_plain_tones_middle_lies_on_its_board() -> None:
    strip = drawing.strip(tone(level_db=lambda at_s: -33.0), dynamic="p")
    assert set(stroke_tops(strip.strokes)) == {board_top(strip)}


def test_without_a_scale_a_swell_fills_the_zone() -> None:
    strip = drawing.strip(tone(level_db=lambda at_s: -40 + 20 * (1 - abs(at_s - 4) / 4)), shape="swell")
    tops = stroke_tops(strip.strokes)
    assert min(tops) == pytest.approx(points(strip.board)[1][1], abs=15)
    assert tops.index(min(tops)) == pytest.approx(len(tops) / 2, abs=2)


def test_a_plain_tone_asked_as_a_swell_does_not_fill_the_zone_with_its_noise() -> None:
    tops = stroke_tops(
        drawing.strip(tone(level_db=lambda at_s: -30 + (round(at_s * 50) % 3) * 0.2), shape="swell").strokes
    )
    assert max(tops) - min(tops) < 20


def test_strokes_of_the_flagged_moment_are_apart_from_the_rest() -> None:
    strip = drawing.strip(tone(), flagged=(5.0, 7.0))
    assert strip.stakes == (250.0, 500.0)
    here = list(stroke_places(strip.strokes_here))
    assert here
    assert all(250 < x < 500 for x in here)
    assert not [x for x in stroke_places(strip.strokes) if 250 < x < 500]


def test_a_short_flag_is_wide_enough_to_be_seen() -> None:
    start, end = drawing.strip(tone(), flagged=(6.0, 6.01)).stakes or (0, 0)
    assert end - start == pytest.approx(50)
    assert start < 376 < end


@pytest.mark.parametrize("flagged", [(2.0, 2.1), (10.99, 11.0), (40.0, 41.0)])
def test_a_flag_at_or_beyond_an_end_stays_inside(flagged: tuple[float, float]) -> None:
    start, end = drawing.strip(tone(), flagged=flagged).stakes or (-1, -1)
    assert 0 <= start < end <= 1000


def test_the_word_here_stays_inside_the_picture() -> None:
    assert drawing.strip(tone(), flagged=(3.0, 3.1)).here_percent == 7.0
    assert drawing.strip(tone(), flagged=(10.9, 11.0)).here_percent == 93.0


def test_a_tone_that_came_late_starts_late() -> None:
    strip = drawing.strip(tone(start_s=4.0, lasts_s=7.0), due_s=3.0)
    assert min(x for x, _ in points(strip.string)) == pytest.approx(125, abs=10)
    assert min(stroke_places(strip.strokes)) > 125


def test_silence_makes_no_strokes() -> None:
    strip = drawing.strip(tone(lasts_s=4.0))
    assert max(stroke_places(strip.strokes)) < 500


def test_a_longer_tone_gets_more_beats() -> None:
    assert drawing.strip(tone(lasts_s=16.0)).beats == 16
    assert drawing.strip(tone(lasts_s=8.3)).beats == 8


def test_beats_follow_the_tempo() -> None:
    assert drawing.strip(tone(lasts_s=6.0), beat_s=0.75).beats == 8


def test_a_very_long_tone_has_no_more_strokes_than_can_be_seen() -> None:
    assert len(stroke_places(drawing.strip(tone(lasts_s=40.0)).strokes)) <= 100


def test_no_board_where_the_phone_changed_its_own_volume() -> None:
    assert drawing.strip(tone(), level_control=True).board == ""


def test_an_empty_course_draws_its_board_and_nothing_else() -> None:
    strip = drawing.strip(tone(lasts_s=0.0), target=target(), scale=SCALE)
    assert strip.board
    assert (strip.string, strip.strokes, strip.outside) == ("", "", "")


def test_boards_have_the_shape_that_was_asked() -> None:
    heights = {shape: [y for _, y in points(board(shape))] for shape in ("swell", "reverse_swell", "crescendo")}  # type: ignore[arg-type]
    low, high = heights["crescendo"][0], heights["crescendo"][2]
    assert heights["swell"] == [low, high, low]
    assert heights["reverse_swell"] == [high, low, high]
    assert low > high, "y runs downwards"


@pytest.mark.parametrize("steps", [5, 8])
def test_steps_are_even_terraces_over_the_whole_width(steps: int) -> None:
    terraces = points(board("stepped", steps=steps))
    assert [x for x, _ in terraces] == pytest.approx([i * 1000 / steps for i in range(steps)], abs=0.1)
    rises = [a - b for (_, a), (_, b) in pairwise(terraces)]
    assert rises == pytest.approx([rises[0]] * (steps - 1), abs=0.2)
    assert terraces[0][1] == points(board("sustained", "ppp"))[0][1]
