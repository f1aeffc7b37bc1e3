"""The room in a recording: how far the instrument stands over it, and what it alone can do to one note.

When a tone stops, the instrument is gone at once and the room goes on: what is left, run back along its own decay to
the stop, is the reverberation that was there all the time. A player's slow taper looks like a room, so the answer is
"at least".
"""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.core.level import envelope_between
from analysis.core.lines import through
from analysis.core.records import Colour, Dynamic, Frames, Span, Tone
from analysis.core.targets import mark_place
from analysis.core.units import decibels

if TYPE_CHECKING:
    from analysis.core.records import Doubles

BEFORE_S, AFTER_S = 0.3, 0.35
STOPPING_DB, STOPPING_SDS = 0.5, 2.5  # under the tone, more if it wavers: here it begins to stop …
STOP_S = 0.03  # … and is half gone about so much later
TAIL_S = (0.06, 0.18)  # after the beginning of the stop: nothing but the room
OVER_NOISE_DB = 6.0
BODY_TO_S, LEAST_BLOCKS = 0.12, 5
MOST_SHARE = 0.8  # beyond it the stop itself is lost in the room
DRY_DB = 15.0  # from here on a room moves a note by less than can be heard
FILLING, FILLING_DRIFT_S = 0.15, 0.5  # of the room's own error: what its filling up leaves in spread and slope
FILLING_S = 0.1  # a room that moves levels by 1 dB or more can hold a tone back for so long
WAVY_SHARE, WAVY_FROM_DB = 0.5, 0.8  # of what is left of a vibrato that the room bent: so far its middle may lie off
PEAK_HZ = 4.0  # width of a room's peaks and dips: 2.2 over its reverberation time, about 0.55 s at home
# What a room leaves of a vibrato of 5 Hz, by direct over room in dB: own simulation of 25 cents in a room of 0.6 s.
KEEPS_EXTENT = ((-3.0, 0.0, 5.0, 12.0, 20.0), (0.56, 0.72, 0.88, 0.98, 1.0))
SOFT_TO, MEDIUM_TO = 2, 4  # places of the marks: ppp pp p | mp mf | f ff fff


def direct_over_room_db(frames: Frames, spans: Iterable[Span]) -> float | None:
    """The instrument over its reverberation in dB, from the stops of a take; None with none to look at."""
    shares = [share for span in spans if (share := _share(frames, span)) is not None]
    if not shares:
        return None
    room = float(np.clip(np.median(shares), 1e-6, MOST_SHARE))  # of all the sound that was there, what the room held
    return float(decibels(1.0 - room) - decibels(room))


def _share(frames: Frames, span: Span) -> float | None:
    """The room's share of one tone's power; None for a slurred stop or one that the next tone covers."""
    if span.slurred_out or span.end_s + AFTER_S > frames.duration_s:
        return None
    times_s, level_db = envelope_between(frames, max(span.start_s, span.end_s - BEFORE_S), span.end_s + AFTER_S)
    noise_db = float(level_db[-20:].min())
    body = times_s < span.end_s - BODY_TO_S
    if np.count_nonzero(body) < LEAST_BLOCKS:
        return None
    # A tone may be fading already (the end of a swell): all is held against where it was heading.
    heading = through(times_s[body], level_db[body])
    under_db = heading.at(times_s) - level_db
    swing_db = float(np.std(under_db[body]))
    over = np.flatnonzero(under_db <= max(STOPPING_DB, STOPPING_SDS * swing_db))
    since_s = times_s - float(times_s[over[-1]])
    tone_db = heading.value(float(times_s[over[-1]]))
    tail = (since_s >= TAIL_S[0]) & (since_s <= TAIL_S[1])
    if np.count_nonzero(tail) < LEAST_BLOCKS:
        return None
    heard = tail & (level_db > noise_db + OVER_NOISE_DB)
    if np.count_nonzero(heard) < LEAST_BLOCKS:  # it fell straight into the noise: no room to speak of
        late = level_db[tail][np.count_nonzero(tail) // 2 :]
        return float(10.0 ** ((late.max() - tone_db) / 10.0))
    line = through(since_s[heard], level_db[heard])
    return float(10.0 ** (min(line.value(STOP_S) - tone_db, 0.0) / 10.0)) if line.slope < 0.0 else None


def errors(over_room_db: float, dynamic: Dynamic, spots: int) -> tuple[float, float]:
    """What the room alone may do to one note, one standard deviation: level in dB, colour in percent."""
    table = _table()
    place = mark_place(dynamic)
    row = table["soft" if place <= SOFT_TO else "medium" if place <= MEDIUM_TO else "loud"]
    share = table["spots_share"] if spots >= 3 else 1.0
    level_db, colour_pct = (_at(over_room_db, table["direct_over_room_db"], row[n]) for n in ("level_db", "colour_pct"))
    return share * level_db, share * colour_pct


def with_errors(tones: Sequence[Tone], over_room_db: float | None, dynamic: Dynamic) -> tuple[Tone, ...]:
    """``tones`` with what the room adds to the errors of level, colour and vibrato; unknown rooms add nothing."""
    if over_room_db is None:
        return tuple(tones)
    level_db, colour_pct = errors(over_room_db, dynamic, 1)
    soft_db, _ = errors(over_room_db, "pp", 1)  # the ends of swells; and any partial by itself, as soft tones are one
    kept = float(np.interp(over_room_db, KEEPS_EXTENT[0], KEEPS_EXTENT[1]))
    return tuple(
        replace(
            tone,
            uncertainty={
                **tone.uncertainty,
                **_wider(tone, _errors_of(tone, level_db, soft_db, kept)),
                **_wider(tone, _errors_of_colour(tone.colour, soft_db, colour_pct)),
            },
        )
        for tone in tones
    )


def _wider(tone: Tone, added: Mapping[str, float]) -> dict[str, float]:
    return {
        name: math.hypot(tone.uncertainty[name], error) for name, error in added.items() if name in tone.uncertainty
    }


def _errors_of(tone: Tone, level_db: float, soft_db: float, kept: float) -> dict[str, float]:
    """A moving pitch walks through the peaks and dips of the room; and the room fills up while the tone begins."""
    length_s = max(tone.steady_end_s - tone.steady_start_s, 0.1)
    moved_cents = math.hypot(tone.pitch_spread_cents or 0.0, (tone.pitch_drift_cents or 0.0) / math.sqrt(12.0))
    moved_hz = (tone.colour.centroid_hz or tone.f0_hz) * moved_cents * math.log(2.0) / 1200.0
    wavy = tone.vibrato.present and level_db > WAVY_FROM_DB
    return {
        "level_spread_db": level_db * math.hypot(FILLING, min(1.0, moved_hz / PEAK_HZ)),
        "level_drift_db_per_s": level_db * FILLING_DRIFT_S / length_s,
        "pitch_cents": WAVY_SHARE * (tone.pitch_spread_cents or 0.0) if wavy else 0.0,
        "range_db": soft_db,
        "ends_differ_db": soft_db,
        "rise_s": FILLING_S * min(1.0, level_db),
        "extent_cents": (tone.vibrato.extent_cents or 0.0) * (1.0 / kept**2 - 1.0),
    }


def _errors_of_colour(colour: Colour, partial_db: float, colour_pct: float) -> dict[str, float]:
    """``partial_db``: how far the room moves one partial; each is moved by itself (independent reflections)."""
    if not colour.levels_db:
        return {}
    powers = 10.0 ** (np.asarray(colour.levels_db) / 10.0)
    octaves = np.log2(np.arange(1.0, len(powers) + 1))
    reach = float(np.linalg.norm(octaves - octaves.mean()))
    return {
        "centroid_hz": 0.01 * colour_pct * (colour.centroid_hz or 0.0),
        "centroid_harmonics": 0.01 * colour_pct * (colour.centroid_harmonics or 0.0),
        "tilt_db_per_octave": partial_db / reach if reach > 0.0 else 0.0,
        "odd_even_db": partial_db * math.hypot(_moved(powers[2::2]), _moved(powers[1::2])),
    }


def _moved(powers: Doubles) -> float:
    """How far the level of several partials together moves when each moves by one; the loudest decides."""
    total = float(powers.sum())
    return float(np.linalg.norm(powers)) / total if total > 0.0 else 0.0


def _at(over_room_db: float, places: list[float], values: list[float]) -> float:
    """Between the rows a straight line; beyond the last one half as much every 6 dB."""
    if over_room_db > places[-1]:
        return float(values[-1] * 10.0 ** ((places[-1] - over_room_db) / 20.0))
    return float(np.interp(over_room_db, places, values))


@cache
def _table() -> Mapping[str, Any]:
    return tomllib.loads((Path(__file__).parent / "data" / "room.toml").read_text(encoding="utf-8"))
