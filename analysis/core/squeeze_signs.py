"""Single signs of a squeezed soft tone, each against the same player's own tones. What they add up to: squeeze.py."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Literal

import numpy as np

from analysis.core.records import Dynamic
from analysis.core.targets import mark_place
from analysis.core.trend import residuals, robust_sd

SignName = Literal["sharp", "flat", "late", "airy", "dull", "collapses", "small_range"]

SOFT_TO, MEDIUM = 1, (3, 4)  # places of the marks: ppp pp; mp mf
SHARP_CENTS, FLAT_CENTS = 10.0, -12.0
PITCH_DAYS, OF_LAST_DAYS = 2, 3  # a pitch sign counts when two of the last three days show it
LATE_S, LATE_BELL_S, BELL_NOTES_TO = 0.150, 0.220, 61
AIRY_DB = 6.0
DULL_SDS, LEAST_SCATTER = 1.5, 0.03  # natural logarithm of the centroid: nobody's line is truer than 3 percent
LEAST_FOR_LINE, LEAST_SPAN_DB = 6, 6.0
COLLAPSES = 2
SMALL_RANGE_DB = 8.0


@dataclass(frozen=True, slots=True)
class SoftReading:
    """One plain tone of one player on one horn, soft or not. None: not measured that time.

    Level and brightness of one ``set_up`` (same phone, same place) compare with each other and with no other.
    """

    on: str  # ISO date
    written_midi: int
    dynamic: Dynamic
    set_up: str
    pitch_cents: float | None
    level_db: float | None
    centroid_hz: float | None
    onset_s: float | None  # first air to steady tone
    hnr_db: float | None
    collapse_at_s: float | None
    dropouts: int
    at_s: tuple[float, float]  # where it sounds in its take
    key: str = ""  # the caller's own name for the tone, handed back


@dataclass(frozen=True, slots=True)
class Sign:
    """``size`` in the sign's own unit: cents, seconds, dB, scatters, times."""

    name: SignName
    on: str
    size: float
    at_s: tuple[float, float]
    key: str


def is_soft(one: SoftReading) -> bool:
    return mark_place(one.dynamic) <= SOFT_TO


def is_medium(one: SoftReading) -> bool:
    return mark_place(one.dynamic) in MEDIUM


def of_pitch(own: Sequence[SoftReading], soft: Sequence[SoftReading], drift: Mapping[str, float]) -> list[Sign]:
    """Soft against medium loud on the same note, the day's own shift taken off both; two of the last three days."""
    usual = [r.pitch_cents - drift[r.on] for r in own if is_medium(r) and r.pitch_cents is not None and r.on in drift]
    if not usual:
        return []
    middle = float(np.median(usual))
    daily = []
    for on, group in groupby(soft, key=lambda r: r.on):
        told = [r for r in group if r.pitch_cents is not None]
        if told and on in drift:
            worst = max(told, key=lambda r: abs((r.pitch_cents or 0.0) - drift[on] - middle))
            daily.append((float(np.median([r.pitch_cents or 0.0 for r in told])) - drift[on] - middle, worst))
    found = []
    for place, (size, worst) in enumerate(daily):
        last = [other for other, _ in daily[max(0, place + 1 - OF_LAST_DAYS) : place + OF_LAST_DAYS]]
        if size > SHARP_CENTS and sum(other > SHARP_CENTS for other in last) >= PITCH_DAYS:
            found.append(Sign("sharp", worst.on, size, worst.at_s, worst.key))
        if size < FLAT_CENTS and sum(other < FLAT_CENTS for other in last) >= PITCH_DAYS:
            found.append(Sign("flat", worst.on, size, worst.at_s, worst.key))
    return found


def of_start(soft: Sequence[SoftReading]) -> list[Sign]:
    return [
        Sign("late", r.on, r.onset_s, (max(0.0, r.at_s[0] - r.onset_s), r.at_s[0] + 0.7), r.key)
        for r in soft
        if r.onset_s is not None and r.onset_s > (LATE_BELL_S if r.written_midi <= BELL_NOTES_TO else LATE_S)
    ]


def of_noise(soft: Sequence[SoftReading], near: Sequence[SoftReading]) -> list[Sign]:
    """6 dB noisier than this player's usual soft tone hereabouts."""
    usual = [r.hnr_db for r in near if is_soft(r) and r.hnr_db is not None]
    if len(usual) < LEAST_FOR_LINE:
        return []
    middle = float(np.median(usual))
    return [
        Sign("airy", r.on, middle - r.hnr_db, r.at_s, r.key)
        for r in soft
        if r.hnr_db is not None and middle - r.hnr_db >= AIRY_DB
    ]


def of_colour(soft: Sequence[SoftReading], near: Sequence[SoftReading]) -> list[Sign]:
    """Duller than the player's own robust line from level to brightness, phone and place alike."""
    found = []
    for set_up in sorted({r.set_up for r in soft}):
        told = [r for r in near if r.set_up == set_up and r.level_db is not None and r.centroid_hz is not None]
        level_db = np.array([r.level_db or 0.0 for r in told])
        if len(told) < LEAST_FOR_LINE or np.ptp(level_db) < LEAST_SPAN_DB:
            continue
        left = residuals(level_db, np.log([r.centroid_hz or 1.0 for r in told]), 1)
        scatter = max(robust_sd(left), LEAST_SCATTER)
        found += [
            Sign("dull", r.on, float(off / scatter), r.at_s, r.key)
            for r, off in zip(told, left, strict=True)
            if off < -DULL_SDS * scatter and r in soft
        ]
    return found


def of_collapse(soft: Sequence[SoftReading]) -> list[Sign]:
    """Gave way or went out, twice or more in all."""
    told = [r for r in soft if r.collapse_at_s is not None or r.dropouts]
    if len(told) < COLLAPSES:
        return []
    return [Sign("collapses", r.on, float(len(told)), _around(r), r.key) for r in told]


def _around(one: SoftReading) -> tuple[float, float]:
    if one.collapse_at_s is None:
        return one.at_s
    return max(one.at_s[0], one.collapse_at_s - 0.5), min(one.at_s[1], one.collapse_at_s + 1.0)


def of_range(own: Sequence[SoftReading], soft: Sequence[SoftReading]) -> list[Sign]:
    """Days on which soft and loud of this note lie within 8 dB of each other."""
    found = []
    for on, group in groupby(own, key=lambda r: r.on):
        levels: dict[str, list[float]] = {}
        marks: set[int] = set()
        for one in group:
            if one.level_db is not None:
                levels.setdefault(one.set_up, []).append(one.level_db)
                marks.add(mark_place(one.dynamic))
        of_day = [r for r in soft if r.on == on]
        if not of_day or not marks or max(marks) < MEDIUM[1] + 1:  # nobody played loud that day
            continue
        reach = max(max(some) - min(some) for some in levels.values())
        if reach < SMALL_RANGE_DB:
            found.append(Sign("small_range", on, reach, of_day[0].at_s, of_day[0].key))
    return found
