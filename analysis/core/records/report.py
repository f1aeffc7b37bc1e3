"""The report: every number of every tone, how the recording was caught, what neighbours do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

from analysis.core.records.asked import Shape
from analysis.core.records.heard import AudioInfo


@dataclass(frozen=True, slots=True)
class Vibrato:
    present: bool
    rate_hz: float | None = None
    extent_cents: float | None = None  # half peak to peak
    rate_cv: float | None = None
    extent_cv: float | None = None


@dataclass(frozen=True, slots=True)
class Attack:
    rise_s: float | None = None
    scoop_cents: float | None = None  # negative from below
    settle_s: float | None = None
    cracked: bool = False
    air_before_s: float | None = None
    double_start: bool = False
    accent_db: float | None = None  # first 120 ms over the body
    cracked_at_s: float | None = None


@dataclass(frozen=True, slots=True)
class Release:
    """How a tone stops. ``kind``: tapered, clipped or bumped; ``sag_cents`` negative when it falls."""

    kind: str | None = None
    sag_cents: float | None = None
    fall_s: float | None = None


@dataclass(frozen=True, slots=True)
class Colour:
    centroid_hz: float | None = None
    centroid_harmonics: float | None = None
    tilt_db_per_octave: float | None = None
    odd_even_db: float | None = None
    harmonics: int | None = None  # how many were counted …
    band_hz: float | None = None  # … and up to where
    partials_db: float | None = None  # level with each partial to 5 kHz counted by the fourth root of its power
    levels_db: tuple[float, ...] = ()  # of partials 1, 2, 3 …, as many as were counted, re full scale


@dataclass(frozen=True, slots=True)
class ShapeReading:
    kind: Shape
    met: bool | None = None
    range_db: float | None = None
    peak_at: float | None = None
    rise_db_per_s: float | None = None
    fall_db_per_s: float | None = None
    straightness: float | None = None
    steps_db: tuple[float, ...] = ()
    steps_found: int | None = None
    steps_expected: int | None = None
    pitch_range_cents: float | None = None
    ends_differ_db: float | None = None
    worst_backwards_db: float | None = None  # largest move against the line
    slide_share: float | None = None  # stepped: of the whole way, what is slid inside the plateaus
    at_s: tuple[float, float] | None = None  # the stretch to listen to, in take seconds


@dataclass(frozen=True, slots=True)
class Course:
    """One tone's line for drawing and for finding the moment to hear: every 20 ms from its start.

    ``cents`` is against the tone's target pitch (NaN where no pitch was read), ``level_db`` the K-weighted level.
    """

    step_s: float
    cents: tuple[float | None, ...]
    level_db: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Tone:
    index: int
    start_s: float
    end_s: float
    written: str
    written_midi: int
    sounding_midi: int
    expected: bool | None
    asked_index: int | None  # which of Request.asked it answers
    partial: int | None
    readable: bool
    reasons: tuple[str, ...]
    f0_hz: float
    pitch_cents: float
    pitch_spread_cents: float | None
    pitch_drift_cents: float | None
    level_db: float
    level_spread_db: float | None
    level_drift_db_per_s: float | None
    vibrato: Vibrato
    attack: Attack
    release: Release
    hnr_db: float | None
    colour: Colour
    shape: ShapeReading
    course: Course
    steady_start_s: float
    steady_end_s: float
    uncertainty: Mapping[str, float] = field(default_factory=dict)  # by field name, one standard deviation
    hidden: Mapping[str, str] = field(default_factory=dict)  # measure -> code of what spoils it and nothing else
    collapse_at_s: float | None = None  # level falls > 3 dB in 0.5 s inside the steady part
    dropouts: int = 0


@dataclass(frozen=True, slots=True)
class Capture:
    noise_floor_dbfs: float | None
    snr_db: float | None
    clipped: bool
    level_control_suspected: bool
    readable: bool
    reasons: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Hole:
    index: int
    written_midi: int
    kind: Literal["level", "colour", "pitch"]
    size: float
    unit: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """One note that a run passed more than once: how far its passes lie apart."""

    written_midi: int
    indices: tuple[int, ...]  # of the tones, in playing order
    level_range_db: float | None
    colour_range_pct: float | None
    pitch_range_cents: float | None


@dataclass(frozen=True, slots=True)
class Evenness:
    level_sd_db: float | None = None
    colour_sd_pct: float | None = None
    pitch_sd_cents: float | None = None
    holes: tuple[Hole, ...] = ()  # worst first
    unsure: tuple[Hole, ...] = ()  # of level, in a run: to be noticed, but no more than the room may do; worst first
    repeats: tuple[Repeat, ...] = ()  # notes played more than once, widest level range first
    spots: int = 1  # how many places of the phone lie behind the numbers
    direct_over_room_db: float | None = None  # the instrument over its own reverberation, read from the stops
    level_error_db: float | None = None  # what the room alone may do to one note, one standard deviation
    colour_error_pct: float | None = None


@dataclass(frozen=True, slots=True)
class Caution:
    code: str
    text: str
    indices: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Measurement:
    """One recording, measured: what ``manage.py measure --json`` prints and the web app stores."""

    engine: str
    audio: AudioInfo
    capture: Capture
    tones: tuple[Tone, ...]
    evenness: Evenness
    missing: tuple[str, ...]
    extra: tuple[int, ...]
    cautions: tuple[Caution, ...]
