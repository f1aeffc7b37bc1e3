"""Tone colour from the partials of a steady part.

Counted are partials 1 to 20, none above 8 kHz; the count and the band stand beside the numbers, because the centroid
of the same sound grows with them. Centroid: amplitude-weighted mean partial number. Tilt: least-squares line of level
over octaves. Odd over even: powers of partials 3, 5, 7 … over 2, 4, 6 …; the fundamental belongs to neither, or it
would decide alone. Closed forms: N/H(N) for a sawtooth's centroid of N partials.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.lines import through
from analysis.core.records import Colour, Frames, Span
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels

if TYPE_CHECKING:
    from analysis.core.records import Doubles

MOST_PARTIALS = 20
BAND_HZ = 8000.0
TILT_DEPTH_DB = 55.0  # partials further under the strongest are noise or codec, and would bend the line
MOST_ODD_EVEN_DB = 60.0  # one side is silent
WITNESS_HZ = 5000.0  # above it partials drown in noise first
PIECES = 4  # the steady part in quarters tells how far each number moves by itself


def read(frames: Frames, span: Span, f0_hz: float) -> tuple[Colour, dict[str, float]]:
    """Colour of the steady part of one tone of ``f0_hz``, and one standard deviation of each number."""
    powers = frames.partials[frames_between(frames, span.steady_start_s, span.steady_end_s)].astype(np.float64)
    count = min(MOST_PARTIALS, powers.shape[1], int(BAND_HZ // f0_hz)) if f0_hz > 0.0 else 0
    if count < 1 or not len(powers):
        return Colour(), {}
    powers = powers[:, :count]
    colour = of_partials(powers.mean(axis=0), f0_hz)
    piece = len(powers) // PIECES
    if piece < 2 or colour.centroid_harmonics is None:
        return colour, {}
    pieces = powers[: piece * PIECES].reshape(PIECES, piece, count).mean(axis=1)
    spread = _error(_centroids(pieces))
    errors = {"centroid_hz": spread * f0_hz, "centroid_harmonics": spread}
    for name, read_piece in (("tilt_db_per_octave", _tilt), ("odd_even_db", _odd_even)):
        values = [value for value in map(read_piece, pieces) if value is not None]
        if len(values) == PIECES:
            errors[name] = _error(np.asarray(values))
    return colour, errors


def _error(of_pieces: Doubles) -> float:
    """One standard deviation of the mean of what the quarters say."""
    return float(np.std(of_pieces, ddof=1)) / math.sqrt(len(of_pieces))


def of_partials(powers: Doubles, f0_hz: float) -> Colour:
    """Colour of mean powers (partials,) of partials 1, 2, 3 … of ``f0_hz``."""
    if not np.any(powers > 0.0):
        return Colour()
    centroid = float(_centroids(powers[None, :])[0])
    return Colour(
        centroid_hz=centroid * f0_hz,
        centroid_harmonics=centroid,
        tilt_db_per_octave=_tilt(powers),
        odd_even_db=_odd_even(powers),
        harmonics=len(powers),
        band_hz=BAND_HZ,
        partials_db=_partials_db(powers[: max(1, int(WITNESS_HZ // f0_hz))]),
        levels_db=tuple(np.round(decibels(powers), 1).tolist()),
    )


def _centroids(powers: Doubles) -> Doubles:
    """(pieces,) amplitude-weighted mean partial number of (pieces, partials); pieces without sound: 0."""
    amplitudes = np.sqrt(np.maximum(powers, 0.0))
    total = amplitudes.sum(axis=1)
    centroids: Doubles = amplitudes @ np.arange(1.0, powers.shape[1] + 1) / np.where(total > 0.0, total, 1.0)
    return centroids


def _partials_db(powers: Doubles) -> float:
    """Level with every partial counted by the fourth root of its power.

    A room lifts or drowns single partials, and level hangs on the strongest two or three of them; this hangs on all,
    so that a level which moved while this stood still was moved by the room.
    """
    roots = np.sqrt(np.sqrt(np.maximum(powers, 0.0)))
    return float(4.0 * decibels(roots.mean()))


def _odd_even(powers: Doubles) -> float | None:
    """Odd partials over even ones in dB, at most 60 either way; None where neither sounds."""
    odd, even = float(powers[2::2].sum()), float(powers[1::2].sum())
    if max(odd, even) <= 0.0:
        return None
    return float(np.clip(decibels(odd) - decibels(even), -MOST_ODD_EVEN_DB, MOST_ODD_EVEN_DB))


def _tilt(powers: Doubles) -> float | None:
    """Line of dB over octaves through the partials that stand out, None for fewer than three."""
    level_db = decibels(powers)
    heard = level_db > level_db.max() - TILT_DEPTH_DB
    if np.count_nonzero(heard) < 3:
        return None
    return through(np.log2(np.flatnonzero(heard) + 1.0), level_db[heard]).slope
