"""Level control on swells and steps: the tone brightens as it should, and the level does not follow.

A reed instrument cannot grow louder without growing brighter, and a phone that levels the sound takes the loudness
away and leaves the brightness. So in each graduated tone the course of the centroid is held against the course of the
level: in one player's hands they move together. Attacks of plain tones, which tell more, are looked at in capture.py.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.level import level_course
from analysis.core.lines import through
from analysis.core.records import Frames, Span, Tone
from analysis.core.spectrum import frames_between

if TYPE_CHECKING:
    from analysis.core.records import Doubles
    from analysis.core.tones import Found

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


def of_shapes(frames: Frames, found: Sequence[Found], tones: Sequence[Tone]) -> bool:
    """Whether half or more of the graduated tones that brighten do so without growing louder."""
    graduated = [
        one for one, tone in zip(found, tones, strict=True) if tone.shape.kind not in ("sustained", "evenness")
    ]
    said = [levelled for one in graduated if (levelled := _levelled(frames, one.span, one.f0_hz)) is not None]
    return bool(said) and sum(said) >= SHARE * len(said)


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
    powers = frames.partials[part][:, : max(2, int(BAND_HZ // f0_hz))].astype(np.float64)
    if len(powers) < 2 * SMOOTH_FRAMES:
        return np.zeros(0), np.zeros(0)
    sums = np.cumsum(np.vstack([np.zeros(powers.shape[1]), powers]), axis=0)
    powers = (sums[SMOOTH_FRAMES:] - sums[:-SMOOTH_FRAMES]) / SMOOTH_FRAMES
    amplitudes = np.sqrt(np.where(powers > LEAST_LEVEL * powers.max(), powers, 0.0))
    total = amplitudes.sum(axis=1)
    heard = total > 0.0
    number = np.arange(1.0, powers.shape[1] + 1)
    centroid = np.log((amplitudes[heard] @ number) / total[heard])
    times_s = (part.start + SMOOTH_FRAMES // 2 + np.flatnonzero(heard)) * frames.hop_s
    return times_s, centroid
