"""What is to be sounded, and what was: the words of the generator. No sound is made here."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.core.records import Dynamic, Shape

SAMPLE_RATE_HZ = 48_000
CONTROL_HZ = 1_000  # pitch and level are drawn every millisecond …
SAMPLES_PER_STEP = SAMPLE_RATE_HZ // CONTROL_HZ  # … and joined by straight lines in between

# K-weighted levels (ITU-R BS.1770, re full scale) of the eight marks on a phone half a metre away. House figures:
# no standard gives a mark a level; 3.5 dB a mark makes 24.5 dB from ppp to fff, an able player's span.
DYNAMIC_DB: dict[Dynamic, float] = {
    "ppp": -40.0, "pp": -36.5, "p": -33.0, "mp": -29.5, "mf": -26.0, "f": -22.5, "ff": -19.0, "fff": -15.5,
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Faults:
    """How far a tone strays. All zero: as even as a machine, which no player is."""

    cents: float = 0.0  # whole tone out of tune
    drift_cents: float = 0.0  # end minus beginning, a straight line about ``cents``
    sag_cents: float = 0.0  # added over the last 0.2 s
    unsteady_cents: float = 0.0  # SD of a random wander below 3 Hz
    waver_cents: float = 0.0  # a slow regular wave, half peak to peak …
    waver_hz: float = 1.2
    vibrato_cents: float = 0.0  # half peak to peak
    vibrato_hz: float = 5.2
    vibrato_cv: float = 0.0  # irregularity of its cycles, length and size alike
    scoop_cents: float = 0.0  # where the pitch starts (negative: from below) …
    scoop_s: float = 0.2  # … and how long it takes to arrive
    rise_s: float = 0.04  # from 20 dB under the tone to 3 dB under it
    air_before_s: float = 0.0
    air_db: float = -22.0  # that air against the tone
    accent_db: float = 0.0  # the first 0.1 s over the body
    crack_s: float = 0.0  # how long the wrong partial speaks …
    crack_partial: float = 2.0  # … which one (0.5: the octave below) …
    crack_at_s: float = 0.0  # … and when
    double_start: bool = False
    release_s: float = 0.06  # from full to nothing
    end_bump_db: float = 0.0  # swelling up in the last 0.2 s
    level_db: float = 0.0  # against the dynamic asked for
    level_drift_db: float = 0.0  # end minus beginning
    level_unsteady_db: float = 0.0  # SD of a random wander below 3 Hz
    collapse_db: float = 0.0  # how far the level falls within 0.3 s …
    collapse_at: float = 0.6  # … at this share of the tone, staying down for 0.5 s
    dropout_s: float = 0.0  # the tone goes out altogether in the middle
    colour_db: float = 0.0  # as bright as if played so much louder (negative: dull), at equal level
    hnr_db: float = 45.0  # tone over breath noise, up to 5 kHz


@dataclass(frozen=True, slots=True, kw_only=True)
class ToneSpec:
    """One tone to be sounded. ``written_midi`` of overtone work is the fingered note."""

    written_midi: int
    dynamic: Dynamic = "mf"
    shape: Shape = "sustained"
    seconds: float = 4.0  # from where it speaks (20 dB under) to where it stops (6 dB under)
    gap_s: float = 1.0  # silence after it; 0 with ``slurred``
    breath: bool = False  # a breath is taken in that silence
    slurred: bool = False  # runs into the next tone
    partial: int | None = None
    range_db: float = 18.0  # of crescendo, decrescendo and swells
    peak_at: float = 0.5  # of swells: where the loudest (softest) point lies, 0..1
    dip_db: float = 0.0  # of swells: a step backwards half way up
    steps_db: tuple[float, ...] = (3.0,) * 7  # of stepped tones, signed
    faults: Faults = field(default_factory=Faults)


@dataclass(frozen=True, slots=True, kw_only=True)
class Room:
    """Reflections as decaying noise: enough to move level and colour as a real room does."""

    direct_to_reverberant_db: float = 8.0
    decay_s: float = 0.4  # time to fall 60 dB
    first_reflection_s: float = 0.005


@dataclass(frozen=True, slots=True, kw_only=True)
class GainControl:
    """A phone's automatic level: pulls everything towards one loudness, quickly down and slowly up."""

    target_dbfs: float = -20.0
    most_gain_db: float = 24.0
    down_s: float = 0.15
    up_s: float = 1.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where the phone lies and what it does to the sound. Truth is always that of the player, before all this."""

    room: Room | None = None
    noise_dbfs: float | None = -75.0  # RMS of steady background noise, pink; None: digital silence
    hum_dbfs: float | None = None  # RMS of 50 Hz and its next two partials
    suppress_below_dbfs: float | None = None  # a noise gate turns down by 18 dB what lies under this
    low_pass_hz: float | None = None  # a narrow microphone
    gain_control: GainControl | None = None
    gain_db: float = 0.0  # turned up until it clips, if so much


@dataclass(frozen=True, slots=True, kw_only=True)
class Truth:
    """What really sounded, from the generator's own curves. Levels: K-weighted re full scale, without the place."""

    written_midi: int  # what sounds, read by the player
    sounding_midi: int
    partial: int | None
    start_s: float
    end_s: float
    steady_start_s: float  # 0.4 s inside, or a quarter of a short tone
    steady_end_s: float
    f0_hz: float  # median over the steady part, as all that follows
    pitch_cents: float  # against equal temperament (overtones: the exact partial)
    pitch_spread_cents: float  # SD about a line, vibrato left out
    pitch_drift_cents: float
    level_db: float
    level_spread_db: float  # SD about a line
    level_drift_db_per_s: float
    rise_s: float
    scoop_cents: float  # largest deviation 50 to 250 ms after the start
    air_before_s: float
    cracked: bool
    double_start: bool
    vibrato_hz: float | None
    vibrato_cents: float | None
    hnr_db: float
    centroid_hz: float
    centroid_harmonics: float
    odd_even_db: float
    range_db: float | None  # of shapes
    peak_at: float | None
    steps_db: tuple[float, ...]
    faults: tuple[str, ...]  # the fields of Faults that differ from none
