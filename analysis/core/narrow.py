"""A telephone's band: what a horn and a room sound like up to 3.4 kHz, and nothing at all from 4.5 kHz on.

A saxophone loses 10 to 25 dB from the one to the other, and what it does not send there the room's noise does.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.bands import EDGES_HZ, OVER_TELEPHONE, UNDER_TELEPHONE, bands_db, looks_between
from analysis.core.units import decibels, median

if TYPE_CHECKING:
    from analysis.core.records import AudioInfo, Doubles, Frames, Tone

SLOW_RATE_HZ = 16_000
# Chosen on half of the material: the edge is 26 dB high at most without a telephone, 47 dB and more with one.
EDGE_DB, SHARE, LEAST_TONES = 36.0, 0.8, 4
# A tone of twenty partials, as test signals are, may end in between by itself: one counts whose twentieth would lie
# beyond both bands, or in front of them. All count where the noise of the pauses has the edge too: no room's has.
PARTIALS, NOISE_EDGE_DB, AFTER_S, BEFORE_S = 20, 20.0, 0.35, 0.1


def is_narrow(frames: Frames, tones: Sequence[Tone], audio: AudioInfo) -> bool:
    """Whether tone after tone has plenty under a telephone's upper end and nothing over it."""
    if audio.sample_rate_hz < SLOW_RATE_HZ:
        return True
    every = _in_pauses(frames, tones)
    edges_db = [_edge_db(frames, tone) for tone in tones if (every or _tells(tone.f0_hz)) and _has_partial(tone.f0_hz)]
    known = [edge_db for edge_db in edges_db if edge_db is not None]
    return len(known) >= LEAST_TONES and sum(db > EDGE_DB for db in known) >= SHARE * len(known)


def _tells(f0_hz: float) -> bool:
    twentieth_hz = PARTIALS * f0_hz
    return not EDGES_HZ[UNDER_TELEPHONE] < twentieth_hz < EDGES_HZ[OVER_TELEPHONE + 1]


def _has_partial(f0_hz: float) -> bool:
    """Whether a partial lies in the band under the edge."""
    low_hz, high_hz = EDGES_HZ[UNDER_TELEPHONE : UNDER_TELEPHONE + 2]
    return bool(high_hz // f0_hz > low_hz // f0_hz)


def _edge_db(frames: Frames, tone: Tone) -> float | None:
    looks = looks_between(frames, tone.steady_start_s, tone.steady_end_s)
    if not len(looks):
        return None
    means = frames.bands[looks].mean(axis=0)
    return decibels(float(means[UNDER_TELEPHONE])) - decibels(float(means[OVER_TELEPHONE]))


def _in_pauses(frames: Frames, tones: Sequence[Tone]) -> bool:
    looks = [looks_between(frames, a.end_s + AFTER_S, b.start_s - BEFORE_S) for a, b in pairwise(tones)]
    every = np.concatenate(looks) if looks else np.zeros(0, np.intp)
    if not len(every):
        return False
    bands: Doubles = bands_db(frames)[every]
    return median(bands[:, UNDER_TELEPHONE] - bands[:, OVER_TELEPHONE]) > NOISE_EDGE_DB
