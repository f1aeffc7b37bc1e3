"""The shapes that sound takes on its way from samples to a verdict.

Everything here is frozen and free of people, clocks and Django. Units stand in the names:
cents, dB, seconds, Hz; ``written_…`` is what the player reads, ``sounding_…`` what is heard.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:  # the web process reads these records too and is spared the import
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Doubles = NDArray[np.float64]

Shape = Literal["sustained", "crescendo", "decrescendo", "swell", "reverse_swell", "stepped", "evenness"]
Dynamic = Literal["ppp", "pp", "p", "mp", "mf", "f", "ff", "fff"]
Outcome = Literal["hit", "miss", "unreadable"]


# --- what was asked ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Asked:
    """One tone that the player was asked for, in playing order."""

    written_midi: int  # of overtone work: the fingered note
    partial: int | None = None  # overtone work: which partial of the fingered note
    shape: Shape = "sustained"
    dynamic: Dynamic = "mf"
    pulses_per_second: float = 0.0  # 0: no vibrato was asked for


@dataclass(frozen=True, slots=True)
class Request:
    """How a recording is to be heard. ``asked`` empty: the notes are found from the sound alone."""

    instrument: str = "alto"
    a4_hz: float = 440.0
    asked: tuple[Asked, ...] = ()
    shape: Shape = "sustained"  # of tones that nobody asked for by name
    dynamic: Dynamic = "mf"
    pulses_per_second: float = 0.0


# --- what was heard, on the way -------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class AudioInfo:
    """What the container really held; ``duration_s`` is counted in samples, never read from a header."""

    duration_s: float
    sample_rate_hz: int
    channels: int
    codec: str
    sha256: str
    bit_rate_bps: int | None = None
    truncated: bool = False  # damaged or cut: what is there was measured
    clipped_at_s: tuple[float, ...] = ()  # places where three samples sit at the ceiling (native rate)


@dataclass(frozen=True, slots=True)
class Frames:
    """A whole take, every 10 ms (frame k is centred on ``k * hop_s``), and its 5 ms envelopes.

    ``partials`` holds mean squares of partials 1 to 20 of ``f0_hz`` (0 above 10 kHz); powers are
    mean squares re full scale, so ``10 log10`` of them is dBFS (RMS).
    """

    hop_s: float
    f0_hz: Doubles  # (frames,) refined candidate, whether or not a tone sounds
    spread_cents: Floats  # (frames,) disagreement of the partials about f0: < 1 dry, < 6 room, > 60 no tone
    prominence_db: Floats  # (frames,) partials over the valleys between them, to 5 kHz
    tonal_power: Floats  # (frames,) to 5 kHz
    noise_power: Floats  # (frames,) to 5 kHz
    partials: Floats  # (frames, 20)
    block_s: float  # 0.005
    plain_power: Doubles  # (blocks,) mean square of 5 ms
    weighted_power: Doubles  # (blocks,) the same, K-weighted (ITU-R BS.1770)

    @property
    def duration_s(self) -> float:
        return len(self.plain_power) * self.block_s


@dataclass(frozen=True, slots=True)
class Span:
    """Where one tone sounds. ``steady`` is the stretch its numbers are read from."""

    start_s: float
    end_s: float
    steady_start_s: float
    steady_end_s: float
    slurred_in: bool = False  # no silence before it: a neighbour runs into it
    slurred_out: bool = False
    floor_power: float = 0.0  # plain mean square of the noise just before it


# --- the report -----------------------------------------------------------------------------


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


# --- the verdict ----------------------------------------------------------------------------


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
    part: str = ""  # the field of Tone that was held against the Target: air_before_s, scoop_cents, …


@dataclass(frozen=True, slots=True)
class Verdict:
    outcome: Outcome
    checks: tuple[Check, ...]
    reasons: tuple[str, ...] = ()
