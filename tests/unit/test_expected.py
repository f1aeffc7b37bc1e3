"""What was asked for, as text."""

from __future__ import annotations

import pytest

from analysis.core.expected import parse_expected
from analysis.core.records import Asked

PLAIN = Asked(written_midi=0, shape="swell", dynamic="p", pulses_per_second=4.0)


def midis(text: str) -> list[int]:
    return [asked.written_midi for asked in parse_expected(text, PLAIN)]


def test_notes_in_order_with_the_shape_and_level_that_go_with_them() -> None:
    (first, second) = parse_expected("Bb3, C#4", PLAIN)
    assert first == Asked(58, None, "swell", "p", 4.0)
    assert second == Asked(61, None, "swell", "p", 4.0)


def test_ranges_run_up_down_and_one_after_the_other() -> None:
    assert midis("Bb3..D4") == [58, 59, 60, 61, 62]
    assert midis("D4..B3") == [62, 61, 60, 59]
    assert midis("C4..D4,C#4..C4") == [60, 61, 62, 61, 60]
    assert midis("C4..C4") == [60]
    assert len(midis("Bb3..F#6")) == 33


def test_overtones_are_the_fingered_note_and_its_partials() -> None:
    asked = parse_expected("overtones:Bb3:2,3,4", PLAIN)
    assert [(one.written_midi, one.partial) for one in asked] == [(58, 2), (58, 3), (58, 4)]


@pytest.mark.parametrize(
    "text",
    [
        *("Bb3,,C4", "..", "Bb3..", "Bb3..C4..D4", "overtones:", "overtones:Bb3", "overtones:Bb3:", "overtones:Bb3:0"),
        *("overtones:Bb3:2,x", "overtones:Bb3:-2", "overtones:Bb3:99999999999", "overtones:Bb3:²", "C4;D4"),
    ],
)
def test_what_cannot_be_read_is_refused_in_words(text: str) -> None:
    with pytest.raises(ValueError, match=r"is not a (note|range|partial)"):
        parse_expected(text, PLAIN)


def test_more_than_anyone_plays_is_refused() -> None:
    with pytest.raises(ValueError, match="at most"):
        parse_expected(",".join(["C0..G9"] * 10), PLAIN)
