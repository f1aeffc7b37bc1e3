"""Eight broad bands of every eighth spectrum: the colour of whatever sounds, the room without a tone included."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.units import decibels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats, Frames

FIRST_FRAME, EVERY_FRAMES = 4, 8  # a stretch of 256 frames holds whole eighths
# From over a microphone's rumble to where codecs still keep noise; two of them end and begin where a telephone ends.
EDGES_HZ = (30.0, 125.0, 375.0, 1_000.0, 2_750.0, 3_375.0, 4_500.0, 5_500.0, 7_000.0)
UNDER_TELEPHONE, OVER_TELEPHONE = 4, 6  # the bands 2750 to 3375 and 4500 to 5500 Hz


class Bands:
    """Where the bands lie in one spectrum."""

    def __init__(self, bin_hz: float, scale: float) -> None:
        """``scale``: what makes a bin's squared magnitude a mean square."""
        edges = np.rint(np.array(EDGES_HZ) / bin_hz).astype(np.intp)
        self._bins = slice(edges[0], edges[-1])
        self._means = np.zeros((edges[-1] - edges[0], len(edges) - 1), np.float32)
        for band, (first, end) in enumerate(pairwise(edges - edges[0])):
            self._means[first:end, band] = scale / (end - first)

    def read(self, power: Floats) -> Floats:
        """(looks, 8) mean square of an average bin of each band, of the frames 4, 12, 20 … of (frames, bins)."""
        return power[FIRST_FRAME::EVERY_FRAMES, self._bins] @ self._means


def looks_between(frames: Frames, start_s: float, end_s: float) -> NDArray[np.intp]:
    """Numbers of the looks whose centres lie between two times; there may be none."""
    first, step_s = FIRST_FRAME * frames.hop_s, EVERY_FRAMES * frames.hop_s
    begin, end = np.ceil((start_s - first) / step_s), np.floor((end_s - first) / step_s)
    return np.arange(max(0, int(begin)), min(len(frames.bands), int(end) + 1))


def bands_db(frames: Frames) -> Doubles:
    """(looks, 8) the same in dB."""
    levels_db: Doubles = decibels(frames.bands.astype(np.float64))
    return levels_db
