"""A whole take: pitch and level of every tone that was found, over the envelope of the sound itself.

Unlike the other pictures this one stands alone (a file that a browser opens), so it is laid out in pixels. The envelope
is drawn from the ground up, in dB: level and envelope share one axis.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.tables import note_sign
from analysis.drawing import paths

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Floats, Measurement, Target, Tone

LEFT, RIGHT = 64.0, 24.0
PX_PER_SECOND, LEAST_WIDTH, MOST_WIDTH = 60.0, 900.0, 4200.0
PITCH_TOP, PITCH_HEIGHT = 96.0, 150.0
LEVEL_TOP, LEVEL_HEIGHT = 286.0, 190.0
FOOT = 58.0
LOUDEST_DB, SOFTEST_DB = 0.0, -70.0
BARE_SPAN_CENTS = 30.0  # of the pitch axis, where no target sets it
SPAN_OF_ALLOWANCE = 3.0
COLUMN_PX = 2.0  # one stroke of the envelope and the room it has
TICKS_S = (1, 2, 5, 10, 15, 30, 60, 120, 300)
TICK_ROOM_PX = 80.0
TICKS_CENTS = (5, 10, 20, 25, 50, 100, 200)

Tick = tuple[float, str]  # place in pixels, what it says


@dataclass(frozen=True, slots=True)
class PlottedTone:
    """``note`` as people write it; ``reason`` why it could not be read; band: top and height, None without a target."""

    note: str
    x0: float
    x1: float
    readable: bool
    reason: str
    band: tuple[float, float] | None
    string: str
    outside: str
    level: str

    @property
    def width(self) -> float:
        return round(self.x1 - self.x0, 1)

    @property
    def middle(self) -> float:
        return round((self.x0 + self.x1) / 2, 1)


@dataclass(frozen=True, slots=True)
class Flag:
    x0: float
    x1: float
    at_s: float

    @property
    def middle(self) -> float:
        return round((self.x0 + self.x1) / 2, 1)


@dataclass(frozen=True, slots=True)
class TakePlot:
    width: float
    height: float
    left: float
    right: float
    pitch_top: float
    pitch_zero: float
    pitch_bottom: float
    level_top: float
    ground: float
    tones: tuple[PlottedTone, ...]
    envelope: str
    flags: tuple[Flag, ...]
    seconds: tuple[Tick, ...]
    cents: tuple[Tick, ...]
    decibels: tuple[Tick, ...]
    missing: tuple[str, ...]
    duration_s: float
    codec: str


def take_plot(
    measurement: Measurement,
    samples: Floats | Iterable[Floats],
    sample_rate_hz: int,
    *,
    targets: Sequence[Target | None] = (),
    flagged: Sequence[tuple[float, float]] = (),
) -> TakePlot:
    """Draw a measured take.

    ``samples``: mono, full scale 1.0, whole or in blocks. ``targets``: one for each tone, in the order of the report.
    ``flagged``: stretches to hear, take seconds.
    """
    duration_s = max(measurement.audio.duration_s, 0.1)
    inner = min(MOST_WIDTH, max(LEAST_WIDTH, duration_s * PX_PER_SECOND)) - LEFT - RIGHT
    sheet = _Sheet(inner / duration_s, _span_cents(targets))
    by_tone = {tone.index: target for tone, target in zip(measurement.tones, targets, strict=False)}
    column_s = COLUMN_PX / sheet.px_per_s
    blocks = [samples] if isinstance(samples, np.ndarray) else samples
    return TakePlot(
        width=round(inner + LEFT + RIGHT),
        height=LEVEL_TOP + LEVEL_HEIGHT + FOOT,
        left=LEFT,
        right=round(LEFT + inner, 1),
        pitch_top=PITCH_TOP,
        pitch_zero=PITCH_TOP + PITCH_HEIGHT / 2,
        pitch_bottom=PITCH_TOP + PITCH_HEIGHT,
        level_top=LEVEL_TOP,
        ground=LEVEL_TOP + LEVEL_HEIGHT,
        tones=tuple(_plotted(tone, by_tone.get(tone.index), sheet) for tone in measurement.tones),
        envelope=_envelope(envelope_db(blocks, sample_rate_hz, column_s)),
        flags=tuple(Flag(sheet.x(start), sheet.x(max(end, start + 3 * column_s)), start) for start, end in flagged),
        seconds=_seconds(duration_s, sheet),
        cents=_cents(sheet),
        decibels=tuple((sheet.level_y(db), f"{db}".replace("-", "−")) for db in (0, -20, -40, -60)),
        missing=tuple(name.replace("#", "♯").replace("b", "♭") for name in measurement.missing),
        duration_s=duration_s,
        codec=measurement.audio.codec,
    )


@dataclass(frozen=True, slots=True)
class _Sheet:
    px_per_s: float
    span_cents: float

    def x(self, at_s: float) -> float:
        return round(LEFT + at_s * self.px_per_s, 1)

    def pitch_y(self, cents: float) -> float:
        away = min(1.0, max(-1.0, cents / self.span_cents))
        return round(PITCH_TOP + PITCH_HEIGHT / 2 * (1 - away), 1)

    def level_y(self, level_db: float) -> float:
        part = (level_db - SOFTEST_DB) / (LOUDEST_DB - SOFTEST_DB)
        return round(LEVEL_TOP + LEVEL_HEIGHT * (1 - min(1.0, max(0.0, part))), 1)


def envelope_db(blocks: Iterable[Floats], sample_rate_hz: int, column_s: float) -> Doubles:
    """RMS level in dBFS of each column of that many seconds; the last, unfilled column is left out."""
    size = max(1, round(column_s * sample_rate_hz))
    powers: list[Doubles] = []
    rest: Doubles = np.empty(0)
    for block in blocks:
        squares = np.concatenate([rest, np.square(block, dtype=np.float64)])
        whole = len(squares) // size * size
        powers.append(squares[:whole].reshape(-1, size).mean(axis=1))
        rest = squares[whole:]
    joined = np.concatenate(powers) if powers else rest
    return 10 * np.log10(np.maximum(joined, 1e-14))


def _envelope(levels_db: Doubles) -> str:
    ground, sheet = LEVEL_TOP + LEVEL_HEIGHT, _Sheet(1.0, 1.0)
    tops = [sheet.level_y(float(level)) for level in levels_db]
    strokes = (
        paths.bar(LEFT + i * COLUMN_PX, COLUMN_PX / 2, top, ground) for i, top in enumerate(tops) if top < ground - 0.5
    )
    return "".join(strokes)


def _plotted(tone: Tone, target: Target | None, sheet: _Sheet) -> PlottedTone:
    step_s = tone.course.step_s
    pitched: list[tuple[float, float | None]] = [
        (sheet.x(tone.start_s + i * step_s), None if c is None or not math.isfinite(c) else sheet.pitch_y(c))
        for i, c in enumerate(tone.course.cents)
    ]
    levels = [(sheet.x(tone.start_s + i * step_s), sheet.level_y(db)) for i, db in enumerate(tone.course.level_db)]
    runs = paths.runs_of(pitched)
    band, outside = None, ""
    if target is not None:
        centre = target.note_offset_cents
        top, bottom = sheet.pitch_y(centre + target.pitch_cents), sheet.pitch_y(centre - target.pitch_cents)
        band = (top, round(bottom - top, 1))
        outside = "".join(
            paths.filled(stretch, edge)
            for run in runs
            for stretch, edge in paths.outside(paths.with_crossings(run, heights=(top, bottom)), top, bottom)
        )
    return PlottedTone(
        note=note_sign(tone.written_midi),
        x0=sheet.x(tone.start_s),
        x1=sheet.x(tone.end_s),
        readable=tone.readable,
        reason=tone.reasons[0] if tone.reasons else "",
        band=band,
        string=paths.lines(runs),
        outside=outside,
        level=paths.line(levels),
    )


def _span_cents(targets: Sequence[Target | None]) -> float:
    allowances = [t.pitch_cents + abs(t.note_offset_cents) for t in targets if t is not None]
    return max([BARE_SPAN_CENTS, *(SPAN_OF_ALLOWANCE * a for a in allowances)])


def _seconds(duration_s: float, sheet: _Sheet) -> tuple[Tick, ...]:
    step = next((s for s in TICKS_S if s * sheet.px_per_s >= TICK_ROOM_PX), TICKS_S[-1])
    return tuple((sheet.x(at), f"{at // 60}:{at % 60:02d}") for at in range(0, int(duration_s) + 1, step))


def _cents(sheet: _Sheet) -> tuple[Tick, ...]:
    step = next((c for c in TICKS_CENTS if sheet.span_cents / c <= 3), TICKS_CENTS[-1])
    most = int(sheet.span_cents // step)
    return tuple(
        (sheet.pitch_y(i * step), f"{i * step:+d}".replace("-", "−") if i else "0") for i in range(-most, most + 1)
    )
