"""Hz, cents, decibels: the only place where one becomes another."""

from __future__ import annotations

from typing import overload

import numpy as np
from numpy.typing import ArrayLike, NDArray

SILENCE_POWER = 1e-14  # -140 dB: under the last bit of any phone's recording, and log10 can bear it


@overload
def cents_between(f_hz: float, reference_hz: float) -> float: ...
@overload
def cents_between(f_hz: NDArray[np.floating], reference_hz: ArrayLike) -> NDArray[np.float64]: ...
def cents_between(f_hz: ArrayLike, reference_hz: ArrayLike) -> float | NDArray[np.float64]:
    """How far ``f_hz`` lies above ``reference_hz`` in cents: 1200 log2 of their ratio; any shapes that broadcast."""
    cents = 1200.0 * np.log2(np.asarray(f_hz, dtype=np.float64) / np.asarray(reference_hz, dtype=np.float64))
    return float(cents) if np.ndim(cents) == 0 else cents


@overload
def midi_of_hz(f_hz: float, a4_hz: float = 440.0) -> float: ...
@overload
def midi_of_hz(f_hz: NDArray[np.floating], a4_hz: float = 440.0) -> NDArray[np.float64]: ...
def midi_of_hz(f_hz: ArrayLike, a4_hz: float = 440.0) -> float | NDArray[np.float64]:
    """A frequency as a MIDI number, with what lies between two notes: 69 + 12 log2(f / ``a4_hz``); any shape."""
    midi = np.asarray(np.divide(f_hz, a4_hz), dtype=np.float64)
    np.log2(midi, out=midi)
    midi *= 12.0
    midi += 69.0
    return float(midi) if np.ndim(midi) == 0 else midi


@overload
def decibels(power: float) -> float: ...
@overload
def decibels(power: NDArray[np.floating]) -> NDArray[np.float64]: ...
def decibels(power: ArrayLike) -> float | NDArray[np.float64]:
    """10 log10 of a mean square (re full scale: dBFS of its RMS), never lower than -140 dB."""
    level_db = np.asarray(np.maximum(power, SILENCE_POWER), dtype=np.float64)
    np.log10(level_db, out=level_db)  # in place: of an hour's envelope each copy is 6 MB
    level_db *= 10.0
    return float(level_db) if np.ndim(level_db) == 0 else level_db


def power_of(level_db: float) -> float:
    """The mean square whose level is ``level_db``."""
    return float(10.0 ** (level_db / 10.0))


def hz_shifted(f_hz: float, cents: float) -> float:
    """``f_hz`` moved by ``cents``."""
    return float(f_hz * 2.0 ** (cents / 1200.0))


def percentiles(values: ArrayLike, *percents: float) -> list[float]:
    """Each of them, straight between neighbours, of a flat array that has values and no NaN. Quick, as ``median``."""
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    found = []
    for percent in percents:
        place = 0.01 * percent * (len(ordered) - 1)
        low = int(place)
        high = min(low + 1, len(ordered) - 1)
        found.append(float(ordered[low] + (place - low) * (ordered[high] - ordered[low])))
    return found


def reach(values: ArrayLike) -> float:
    """How far the middle eight tenths of ``values`` lie apart."""
    low, high = percentiles(values, 10, 90)
    return high - low


def median(values: ArrayLike) -> float:
    """The middle of a flat array that has values and no NaN. Numpy's takes ten times as long on a few hundred."""
    ordered = np.sort(np.asarray(values, dtype=np.float64))
    half = len(ordered) // 2
    return float(ordered[half]) if len(ordered) % 2 else float(0.5 * (ordered[half - 1] + ordered[half]))
