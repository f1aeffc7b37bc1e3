"""The verdict: the limits of a tone, the questions put to it, and what came of them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Outcome = Literal["hit", "miss", "unreadable"]


@dataclass(frozen=True, slots=True)
class Target:
    """Limits for one tone (a row of data/targets.toml with the teacher's changes laid over it)."""

    pitch_cents: float
    pitch_spread_cents: float
    pitch_drift_cents_per_s: float
    level_spread_db: float
    level_drift_db_per_s: float
    rise_s: float
    scoop_cents: float
    settle_s: float
    air_before_s: float
    sag_cents: float
    hnr_db: float
    level_steps: float  # how far from the mark's own place on the player's scale, in steps of that scale
    shape_range_db: float
    smallest_step_db: float
    step_sd_db: float
    step_share: float  # how far one step may lie from the median step, as a share of it
    slide_share: float  # of the way, what is slid inside the plateaus instead of stepped between them
    steps_at_least: float  # plateaus
    shape_pitch_range_cents: float
    peak_from: float
    peak_to: float
    slope_ratio_from: float  # rise over fall
    slope_ratio_to: float
    straightness: float
    ends_differ_db: float
    backwards_db: float
    pulse_share: float  # vibrato rate against the pulse that was set
    extent_from_cents: float
    extent_to_cents: float
    rate_cv: float
    extent_cv: float
    note_offset_cents: float = 0.0  # this horn's own lie on this note


@dataclass(frozen=True, slots=True)
class LevelScale:
    """The player's own soft-to-loud span of the day; ppp lies on ``softest_db``, fff on ``loudest_db``."""

    softest_db: float
    loudest_db: float


@dataclass(frozen=True, slots=True)
class Check:
    """One question put to one tone. ``unsure``: nearer to the limit than the reading can tell."""

    measure: str  # note, crack, pitch, steadiness, level, start, shape, …
    verdict: Literal["met", "missed", "unsure", "not_measured"]
    must: bool  # a must-have decides the outcome; the rest is advice
    value: float | None = None
    limit: float | None = None
    code: str | None = None  # the word for what happened: see data/words.toml
    at_s: tuple[float, float] | None = None  # take seconds: where to listen
    part: str = ""  # the field of Tone that was held against the Target: air_before_s, …; of shapes the Target's


@dataclass(frozen=True, slots=True)
class Verdict:
    outcome: Outcome
    checks: tuple[Check, ...]
    reasons: tuple[str, ...] = ()
