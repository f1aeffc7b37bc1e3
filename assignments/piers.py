"""The ground that the high notes wait for: piers of days, of notes and of the teacher's word under one beam.

Places are per cent of the picture, y downwards. A rule part that is switched off has no pier.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

BEAM_BOTTOM, GROUND = 12.5, 97.0
TOP_WAITING = 16.5  # a beam that waits hangs a little above its piers
GAP, LEAST_GAP_PART = 1.4, 0.25  # between courses: at most a quarter of a course
WIDTH = 21.5

PierName = Literal["days", "notes", "teacher"]


@dataclass(frozen=True, slots=True)
class Course:
    top: float
    height: float


@dataclass(frozen=True, slots=True)
class Pier:
    name: PierName
    x: float
    width: float
    courses: tuple[Course, ...]
    trench: Course | None  # what is still to be laid, open at the top

    @property
    def right(self) -> float:
        return self.x + self.width


@dataclass(frozen=True, slots=True)
class Piers:
    piers: tuple[Pier, ...]
    open: bool
    beam_height: float
    ground: float


def piers_of(
    *,
    days_on_target: int,
    opens_at: int | None,
    notes_standing: int,
    notes_in_range: int | None,
    teacher_confirms: bool,
    teacher_said_yes: bool,
    is_open: bool,
) -> Piers:
    """``opens_at`` or ``notes_in_range`` None, ``teacher_confirms`` false: that part of the rule is off."""
    parts: list[tuple[PierName, int, int]] = []
    if opens_at is not None:
        parts.append(("days", days_on_target, opens_at))
    if notes_in_range is not None:
        parts.append(("notes", notes_standing, notes_in_range))
    if teacher_confirms:
        parts.append(("teacher", int(teacher_said_yes), 1))
    top = BEAM_BOTTOM if is_open else TOP_WAITING
    room = 100 / max(1, len(parts))
    return Piers(
        piers=tuple(
            _pier(name, i * room + (room - WIDTH) / 2, laid, needed, top)
            for i, (name, laid, needed) in enumerate(parts)
        ),
        open=is_open,
        beam_height=BEAM_BOTTOM,
        ground=GROUND,
    )


def _pier(name: PierName, x: float, laid: int, needed: int, top: float) -> Pier:
    laid, needed = min(laid, needed), max(1, needed)
    pitch = (GROUND - top) / needed
    gap = min(GAP, pitch * LEAST_GAP_PART) if needed > 1 else 0.0
    courses = tuple(Course(round(GROUND - (i + 1) * pitch + gap, 2), round(pitch - gap, 2)) for i in range(laid))
    left = GROUND - laid * pitch
    trench = Course(top, round(left - top - gap, 2)) if laid < needed else None
    return Pier(name, round(x, 2), WIDTH, courses, trench)
