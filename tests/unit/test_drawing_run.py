"""Many notes side by side: the wall of a run, a hole among its neighbours, a profile over the range."""

from itertools import pairwise

import pytest

from analysis import drawing
from analysis.drawing.run import LABEL_GAP, WALL_ROOM_HEIGHT, WALL_STRING_Y

ALL = range(58, 91)


def even(holes: tuple[int, ...] = (), by_db: float = -8.0) -> list[tuple[int, float | None]]:
    return [(midi, -30.0 + (by_db if midi in holes else 0.0)) for midi in ALL]


def test_an_even_run_is_a_wall_up_to_its_string() -> None:
    wall = drawing.wall(even(), room_db=2.9)
    assert len(wall.blocks) == 33
    assert {block.top for block in wall.blocks} == {WALL_STRING_Y} == {wall.string_y}


def test_the_wall_reaches_from_edge_to_edge() -> None:
    blocks = drawing.wall(even(), room_db=2.9).blocks
    assert blocks[0].x == 0
    assert blocks[-1].x + blocks[-1].width == pytest.approx(100, abs=0.05)


def test_a_note_as_soft_as_the_room_can_make_it_still_touches_the_shade() -> None:
    wall = drawing.wall(even((73,), by_db=-2.9), room_db=2.9)
    block = next(block for block in wall.blocks if block.written_midi == 73)
    assert block.top == pytest.approx(WALL_STRING_Y + WALL_ROOM_HEIGHT) == pytest.approx(wall.peg_bottom)


def test_a_hole_is_lower_and_named() -> None:
    wall = drawing.wall(even((73,)), room_db=2.9, holes=(73,))
    hole = next(block for block in wall.blocks if block.hole)
    assert hole.written_midi == 73
    assert hole.top > wall.peg_bottom
    assert [label.written_midi for label in wall.holes] == [73]
    assert wall.holes[0].points_at == pytest.approx(hole.middle, abs=0.01)


def test_at_most_three_holes_are_named() -> None:
    wall = drawing.wall(even((60, 65, 70, 75)), room_db=2.9, holes=(60, 65, 70, 75))
    assert sum(block.hole for block in wall.blocks) == 4
    assert len(wall.holes) == 3


@pytest.mark.parametrize("holes", [(72, 73, 74), (58, 59, 60), (88, 89, 90)])
def test_names_of_holes_side_by_side_do_not_lie_on_each_other(holes: tuple[int, ...]) -> None:
    ats = [label.at for label in drawing.wall(even(holes), room_db=2.9, holes=holes).holes]
    assert all(b - a >= LABEL_GAP - 0.01 for a, b in pairwise(ats))
    assert ats[0] >= LABEL_GAP / 2
    assert ats[-1] <= 100 - LABEL_GAP / 2


def test_a_note_that_was_not_heard_leaves_its_place_empty() -> None:
    notes = [(midi, None if midi == 70 else -30.0) for midi in ALL]
    blocks = drawing.wall(notes, room_db=2.9).blocks
    assert len(blocks) == 32
    assert 70 not in {block.written_midi for block in blocks}


def test_the_way_down_has_a_string_of_its_own_only_beyond_what_the_room_can_do() -> None:
    near = [(midi, -32.0) for midi in ALL]
    far = [(midi, -36.0) for midi in ALL]
    assert drawing.wall(even(), room_db=2.9, back=near).back_string_y is None
    lower = drawing.wall(even(), room_db=2.9, back=far).back_string_y
    assert lower is not None
    assert lower > WALL_STRING_Y


def test_feet_name_the_ends_and_the_breaks_between_them() -> None:
    feet = drawing.wall(even(), room_db=2.9).feet
    assert [foot.written_midi for foot in feet] == [58, 74, 81, 86, 90]
    assert (feet[0].anchor, feet[-1].anchor) == ("start", "end")
    assert [foot.written_midi for foot in feet if foot.crowded] == [86]


def test_part_of_a_range_names_no_break_that_it_does_not_reach() -> None:
    feet = drawing.wall([(midi, -30.0) for midi in range(60, 73)], room_db=2.9).feet
    assert [foot.written_midi for foot in feet] == [60, 72]


def test_a_run_of_nothing_is_an_empty_wall() -> None:
    wall = drawing.wall([], room_db=2.9)
    assert (wall.blocks, wall.holes, wall.feet) == ((), (), ())


def test_the_neighbours_say_where_the_string_lies_not_the_hole() -> None:
    near = drawing.neighbours([(71, -30), (72, -30), (73, -60), (74, -30), (75, -30)], room_db=2.9, hole=73)
    assert near.hole is not None
    assert {block.top for block in near.blocks if not block.hole} == {near.string_y}
    assert near.hole.height > 0, "a block that was played never vanishes"


def test_neighbours_without_a_hole_are_five_blocks() -> None:
    near = drawing.neighbours([(midi, -30.0) for midi in range(71, 76)], room_db=2.9)
    assert near.hole is None
    assert len(near.blocks) == 5


def test_a_profile_in_tune_lies_on_the_line() -> None:
    profile = drawing.profile([(midi, 0.0) for midi in ALL], allowance=10)
    assert {part.split(" ")[1] for part in profile.now[1:].split("L")} == {"500"}
    assert profile.before == ""


def test_a_profile_breaks_where_a_note_is_missing() -> None:
    profile = drawing.profile([(midi, None if midi == 70 else 5.0) for midi in ALL], allowance=10)
    assert profile.now.count("M") == 2


def test_two_profiles_of_different_notes_share_one_axis() -> None:
    now, before = [(60, 0.0), (62, 0.0)], [(60, 0.0), (61, 0.0), (62, 0.0)]
    profile = drawing.profile(now, before=before, allowance=10)
    assert profile.now.split(" ")[0] == profile.before.split(" ")[0]
    assert [foot.written_midi for foot in profile.feet] == [60, 62]


def test_a_profiles_bars_reach_as_far_as_a_value_may_be_off() -> None:
    """10 cents are 130 of the box: 5 either way make a bar of 130."""
    profile = drawing.profile([(60, 0.0), (61, None), (62, 0.0)], allowance=10, error=5)
    assert profile.errors == "M166.7 435V565M833.3 435V565"


def test_without_an_error_there_are_no_bars() -> None:
    assert drawing.profile([(60, 0.0)], allowance=10).errors == ""
