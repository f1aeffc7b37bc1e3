"""One tone on a time axis of beats: the string of its pitch above the strokes of its level."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.core.records import Dynamic, LevelScale, Shape, Target, Tone
from analysis.drawing.axis import BOX, axis_of, stakes_of
from analysis.drawing.level import board, heights, strokes
from analysis.drawing.pitch import ALLOWANCE_HEIGHT, STRING_Y, pitch_string

HERE_WITHIN_PERCENT = (7.0, 93.0)  # keeps the word "here" inside the picture


@dataclass(frozen=True, slots=True)
class Strip:
    """Path data in a box of 1000 by 1000; a string is empty where there is nothing to draw."""

    beats: int
    shade: bool  # no target, no shade
    string: str
    outside: str  # filled: where the string leaves the shade …
    outside_here: str  # … inside the flagged moment
    strokes: str
    strokes_here: str
    board: str
    stakes: tuple[float, float] | None
    beats_outside: tuple[int, ...]
    beats_flagged: tuple[int, ...]

    @property
    def string_y(self) -> float:
        return STRING_Y

    @property
    def shade_top(self) -> float:
        return STRING_Y - ALLOWANCE_HEIGHT

    @property
    def shade_height(self) -> float:
        return 2 * ALLOWANCE_HEIGHT

    @property
    def beat_numbers(self) -> range:
        return range(1, self.beats + 1)

    @property
    def here_percent(self) -> float:
        """Where the word "here" is centred, in per cent of the width."""
        least, most = HERE_WITHIN_PERCENT
        return min(most, max(least, sum(self.stakes) / 2 / BOX * 100)) if self.stakes else 50.0


def strip(
    tone: Tone,
    *,
    shape: Shape = "sustained",
    dynamic: Dynamic = "mf",
    target: Target | None = None,
    scale: LevelScale | None = None,
    flagged: tuple[float, float] | None = None,
    due_s: float | None = None,
    beat_s: float = 1.0,
    beats: int = 8,
    steps: int = 8,
    level_control: bool = False,
) -> Strip:
    """Draw one tone.

    ``flagged``: the stretch to hear, take seconds. ``due_s``: when beat 1 was due (None: where the tone starts): a tone
    that came late then starts late in the picture. ``level_control``: the phone changed its own volume: no board.
    """
    axis = axis_of(tone.start_s if due_s is None else due_s, tone.end_s, beat_s, beats)
    stakes = stakes_of(axis, flagged)
    pitch = pitch_string(tone, axis, target, stakes)
    plain, here = strokes(tone, axis, heights(tone.course.level_db, shape, dynamic, scale), stakes)
    return Strip(
        beats=axis.beats,
        shade=target is not None,
        string=pitch.string,
        outside=pitch.outside,
        outside_here=pitch.outside_here,
        strokes=plain,
        strokes_here=here,
        board="" if level_control else board(shape, dynamic, steps),
        stakes=stakes,
        beats_outside=pitch.beats_outside,
        beats_flagged=tuple(range(axis.beat_at(stakes[0]), axis.beat_at(stakes[1] - 1) + 1)) if stakes else (),
    )
