"""Level control, told by the horn: brightness and level of a reed instrument move together, until a phone levels them.

A reed instrument cannot grow louder without growing brighter, and a phone that levels the sound takes the loudness
away and leaves the brightness. So in each graduated tone the course of the centroid is held against the course of the
level; and a plain tone that starts louder than it goes on, and no brighter, was turned down after its start. What the
room's noise tells is looked at in pauses.py, what glides from tone to tone in gliding.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.level import envelope_between, level_course
from analysis.core.lines import through
from analysis.core.records import Frames, Span, Tone
from analysis.core.spectrum import frames_between
from analysis.core.units import median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles
    from analysis.core.tones import Found

    Flags = NDArray[np.bool_]

BAND_HZ = 5000.0
SMOOTH_FRAMES = 21
EDGE_S = 0.1
LEAST_LEVEL = 1e-5  # partials 50 dB under the strongest are noise, and would brighten the soft ends
# Found with swells, crescendos and terraces of the generator, with and without gain control, dry and in rooms: without
# it the two move together (correlation 0.96 and more, 15 dB and more for a factor e of brightness).
BRIGHTENS = 0.2  # natural logarithm: without so much there is nothing to compare
LEAST_TOGETHER, LEAST_DB_FOR_E = 0.93, 14.0
FREE_RANGE_DB = 13.0  # a level that moves so far has not been levelled
SHARE = 0.5
# Attacks. Without a control the first 0.12 s of a tone lie 0 to 0.6 dB over its body, or 1 to 2.7 where a SoundFont was
# sampled with an accent, which is as bright as it is loud; with one 2.7 to 9.8. What brightness must leave unexplained
# was chosen on half of the material: without a control it leaves up to 4.1 dB, with one 5.4 and more.
LEAST_TONES, LEAST_NOTES, ACCENT_DB, LEAST_ACCENT_DB, LEAST_ACCENT_PERCENTILE = 4, 3, 2.5, 1.5, 20
DB_FOR_E, UNEXPLAINED_DB = 15.0, 4.6
FIRST_S, BODY_S = 0.12, (0.3, 0.8)  # after the start, as in attack.py


def of_shapes(frames: Frames, found: Sequence[Found], tones: Sequence[Tone]) -> bool:
    """Whether half or more of the graduated tones that brighten do so without growing louder."""
    graduated = [
        one for one, tone in zip(found, tones, strict=True) if tone.shape.kind not in ("sustained", "evenness")
    ]
    said = [levelled for one in graduated if (levelled := _levelled(frames, one.span, one.f0_hz)) is not None]
    return bool(said) and sum(said) >= SHARE * len(said)


def of_attacks(frames: Frames, tones: Sequence[Tone]) -> bool:
    """Whether attacks stand above their own body in note after note, and no brighter than it.

    Note after note: a room that dulls one note lets its attack stand out each time it is played.
    """
    by_note: dict[int, list[Tone]] = {}
    for tone in tones:
        if tone.attack.accent_db is not None:
            by_note.setdefault(tone.written_midi, []).append(tone)
    if len(by_note) < LEAST_NOTES or sum(map(len, by_note.values())) < LEAST_TONES:
        return False
    accents = [median([tone.attack.accent_db or 0.0 for tone in of_note]) for of_note in by_note.values()]
    if median(accents) < ACCENT_DB or float(np.percentile(accents, LEAST_ACCENT_PERCENTILE)) < LEAST_ACCENT_DB:
        return False
    left = [median([_unexplained_db(frames, tone) for tone in of_note]) for of_note in by_note.values()]
    return median(left) >= UNEXPLAINED_DB


def brightening_per_s(frames: Frames, tone: Tone) -> float:
    """How fast the natural logarithm of the centroid moves in the steady part; 0 where no partial is heard."""
    powers = frames.partials[frames_between(frames, tone.steady_start_s, tone.steady_end_s)].astype(np.float64)
    heard, centroid = _centroids(powers, tone.f0_hz)
    return through(np.flatnonzero(heard).astype(np.float64) * frames.hop_s, centroid).slope if len(centroid) else 0.0


def _unexplained_db(frames: Frames, tone: Tone) -> float:
    """What the attack stands above the body, less what its brightness answers for."""
    times_s, level_db = envelope_between(frames, tone.start_s, tone.start_s + FIRST_S)
    loudest_s = float(times_s[int(level_db.argmax())])
    parts = ((loudest_s - frames.hop_s, loudest_s + frames.hop_s), tuple(tone.start_s + at_s for at_s in BODY_S))
    means = (frames.partials[frames_between(frames, *part)].mean(axis=0, keepdims=True) for part in parts)
    (_, first), (_, body) = (_centroids(powers.astype(np.float64), tone.f0_hz) for powers in means)
    brighter = float(first[0] - body[0]) if len(first) and len(body) else 0.0
    return (tone.attack.accent_db or 0.0) - DB_FOR_E * brighter


def _levelled(frames: Frames, span: Span, f0_hz: float) -> bool | None:
    """None where the tone hardly brightens: then nothing can be told."""
    times_s, centroid = _brightness(frames, span, f0_hz)
    level_s, level_db = level_course(frames, span.start_s, span.end_s)
    if len(centroid) < SMOOTH_FRAMES or not len(level_db):
        return None
    level_db = np.interp(times_s, level_s, level_db)
    low, high = np.percentile(centroid, [5, 95])
    if high - low < BRIGHTENS:
        return None
    soft_db, loud_db = np.percentile(level_db, [5, 95])
    if loud_db - soft_db >= FREE_RANGE_DB:
        return False
    if level_db.std() == 0.0:
        return True
    together = float(np.corrcoef(centroid, level_db)[0, 1])
    return together < LEAST_TOGETHER or through(centroid, level_db).slope < LEAST_DB_FOR_E


def _brightness(frames: Frames, span: Span, f0_hz: float) -> tuple[Doubles, Doubles]:
    """(times, natural logarithm of the centroid in partials), smoothed over 0.2 s."""
    part = frames_between(frames, span.start_s + EDGE_S, span.end_s - EDGE_S)
    powers = frames.partials[part].astype(np.float64)
    if len(powers) < 2 * SMOOTH_FRAMES:
        return np.zeros(0), np.zeros(0)
    sums = np.cumsum(np.vstack([np.zeros(powers.shape[1]), powers]), axis=0)
    heard, centroid = _centroids((sums[SMOOTH_FRAMES:] - sums[:-SMOOTH_FRAMES]) / SMOOTH_FRAMES, f0_hz)
    times_s = (part.start + SMOOTH_FRAMES // 2 + np.flatnonzero(heard)) * frames.hop_s
    return times_s, centroid


def _centroids(powers: Doubles, f0_hz: float) -> tuple[Flags, Doubles]:
    """(frames,) which hold partials at all, and of those the natural logarithm of the centroid in partials."""
    powers = powers[:, : max(2, int(BAND_HZ // f0_hz))]
    amplitudes = np.sqrt(np.where(powers > LEAST_LEVEL * powers.max(), powers, 0.0))
    total = amplitudes.sum(axis=1)
    heard: Flags = total > 0.0
    number = np.arange(1.0, powers.shape[1] + 1)
    return heard, np.log((amplitudes[heard] @ number) / total[heard])
