"""Sound in blocks -> Frames of the whole take: one short-time spectrum, everything read from it, and let go again.

24 kHz, Hann window by the lowest note of the horn (four bins or more between partials), 10 ms hop, frame k centred on
k hops. Worked through 256 frames at a time, so that nothing ever holds the whole sound. Powers are mean squares
re full scale: a lobe of bins times 2 / (N sum w^2) (Parseval).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from functools import cache
from typing import TYPE_CHECKING, Any

import numpy as np
from scipy import fft

from analysis.core.bands import Bands
from analysis.core.level import BLOCK_S, Envelopes
from analysis.core.pitch import PitchSearch
from analysis.core.records import Frames
from analysis.core.second_series import SecondSeries
from analysis.core.tables import hz_of_midi, instrument

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Doubles, Floats

SAMPLE_RATE_HZ = 24_000
HOP_SAMPLES = 240
HOP_S = HOP_SAMPLES / SAMPLE_RATE_HZ
FRAMES_AT_ONCE = 256
TOP_HZ = 10_000.0
PARTIALS = 20
BAND_HZ = 5_000.0  # tonal and noise power, and prominence, are stated up to here
LOBE = 5  # bins: a Hann peak holds all but 1/2000 of its power within two either side
NUMBERS = np.arange(1, PARTIALS + 1, dtype=np.float32)
# Noise is read, in f0, round the middle between two partials: three places times 21 valleys.
VALLEYS = np.add.outer((-0.06, 0.0, 0.06), np.arange(PARTIALS + 1) + 0.5).reshape(-1).astype(np.float32)
# An array of this size, made and dropped, teaches glibc to keep the pages of later ones (mallopt(3), dynamic mmap
# threshold): a third of the time went into getting them anew for each block. It is never touched, so it costs nothing.
KEPT_BYTES = 8 << 20
LOWEST_POWER = np.float32(1e-20)


def frames_of(blocks: Iterable[Floats], instrument_name: str) -> Frames:
    """Frames of a take. ``blocks``: 24 kHz mono float32 arrays of any lengths, used once."""
    horn = instrument(instrument_name)
    np.empty(KEPT_BYTES, np.uint8)
    lowest_hz = hz_of_midi(horn.lowest_sounding)
    reader = FrameReader(lowest_hz, horn.window_samples)
    envelopes = Envelopes(SAMPLE_RATE_HZ)
    stretches = _stretches(blocks, envelopes, horn.window_samples)
    columns = [_Column(part) for part in reader.read(next(stretches))]
    for stretch in stretches:
        parts: tuple[NDArray[Any], ...] = reader.read(stretch)
        for column, part in zip(columns, parts, strict=True):
            column.add(part)
    plain_power, weighted_power = envelopes.powers()
    f0_hz, spread_cents, prominence_db, tonal_power, noise_power, partials, bands = [
        column.whole() for column in columns
    ]
    other_hz, other_power = reader.second.seen()
    return Frames(
        lowest_hz=lowest_hz,
        hop_s=HOP_S,
        f0_hz=f0_hz,
        spread_cents=spread_cents,
        prominence_db=prominence_db,
        tonal_power=tonal_power,
        noise_power=noise_power,
        partials=partials,
        bands=bands,
        other_hz=other_hz,
        other_power=other_power,
        block_s=BLOCK_S,
        plain_power=plain_power,
        weighted_power=weighted_power,
    )


class _Column:
    """Rows that are added at the end, in place: a long take is never held twice."""

    def __init__(self, first: NDArray[Any]) -> None:
        self._held = first.copy()
        self._rows = len(first)

    def add(self, rows: NDArray[Any]) -> None:
        end = self._rows + len(rows)
        if end > len(self._held):
            self._held.resize((end + end // 4, *self._held.shape[1:]), refcheck=False)
        self._held[self._rows : end] = rows
        self._rows = end

    def whole(self) -> NDArray[Any]:
        self._held.resize((self._rows, *self._held.shape[1:]), refcheck=False)
        return self._held


def frames_between(frames: Frames, start_s: float, end_s: float) -> slice:
    """The frames whose centres lie between two times, at least one."""
    first = min(max(0, math.ceil(start_s / frames.hop_s - 1e-6)), max(0, len(frames.f0_hz) - 1))
    return slice(first, max(first + 1, math.floor(end_s / frames.hop_s + 1e-6) + 1))


def _stretches(blocks: Iterable[Floats], envelopes: Envelopes, window_samples: int) -> Iterator[Floats]:
    """Overlapping stretches of sound, each for up to 256 frames and one neighbour on either side of them."""
    held = np.zeros(window_samples // 2 + HOP_SAMPLES, np.float32)  # room for half a window and for frame -1
    samples = frames = 0
    for block in (block for block in blocks if len(block)):
        envelopes.add(block)
        samples += len(block)
        held = np.concatenate((held, block))
        while len(held) >= _samples_for(FRAMES_AT_ONCE, window_samples):
            yield held[: _samples_for(FRAMES_AT_ONCE, window_samples)]
            held = held[FRAMES_AT_ONCE * HOP_SAMPLES :]
            frames += FRAMES_AT_ONCE
    while frames < samples // HOP_SAMPLES + 1:
        count = min(samples // HOP_SAMPLES + 1 - frames, FRAMES_AT_ONCE)
        stretch = held[: _samples_for(count, window_samples)]
        yield np.pad(stretch, (0, _samples_for(count, window_samples) - len(stretch)))
        held = held[count * HOP_SAMPLES :]
        frames += count


def _samples_for(frames: int, window_samples: int) -> int:
    return (frames + 1) * HOP_SAMPLES + window_samples


@cache
def _pitch_search(lowest_hz: float, window_samples: int) -> PitchSearch:
    """One a horn: its combs take as long to make as three seconds of sound to read."""
    return PitchSearch(lowest_hz, window_samples, HOP_SAMPLES, SAMPLE_RATE_HZ)


class FrameReader:
    """Reads stretches of sound, one spectrum each 10 ms."""

    def __init__(self, lowest_hz: float, window_samples: int) -> None:
        self.window = np.hanning(window_samples + 1)[:-1].astype(np.float32)
        self.bin_hz = SAMPLE_RATE_HZ / window_samples
        self.bins = int(TOP_HZ / self.bin_hz)
        self.scale = np.float32(2.0 / (window_samples * np.square(self.window).sum()))
        self._weighted = np.empty((FRAMES_AT_ONCE + 2, window_samples), np.float32)
        self.search = _pitch_search(lowest_hz, window_samples)
        self.bands = Bands(self.bin_hz, float(self.scale))
        self.second = SecondSeries(window_samples, HOP_SAMPLES, SAMPLE_RATE_HZ)

    def read(self, stretch: Floats) -> tuple[NDArray[Any], ...]:
        """f0_hz, spread_cents, prominence_db, tonal_power, noise_power, partials of the frames of one stretch.

        And bands of some of them. What ``second`` sees in them is asked for at the end.
        """
        windows = np.lib.stride_tricks.sliding_window_view(stretch, len(self.window))[::HOP_SAMPLES]
        weighted = np.multiply(windows, self.window, out=self._weighted[: len(windows)])
        spectra = fft.rfft(weighted)
        squares = np.square(spectra[1:-1, : self.bins].view(np.float32))
        power = squares[:, 0::2] + squares[:, 1::2]
        f0_hz, spread_cents = self.search.refined(spectra, power, self.search.coarse_hz(power))
        partials = self._partials_and_noise(power, f0_hz)
        self.second.look(stretch, f0_hz)
        return f0_hz, spread_cents, *partials, self.bands.read(power)

    def _partials_and_noise(self, power: Floats, f0_hz: Doubles) -> tuple[Floats, Floats, Floats, Floats]:
        """prominence_db, tonal_power, noise_power, partials (frames, 20)."""
        f0_bins = (f0_hz / self.bin_hz).astype(np.float32)[:, None]
        row = (np.arange(len(power), dtype=np.float32) * self.bins)[:, None]  # whole numbers: exact to 2^24
        flat = power.reshape(-1)
        centres = np.rint(f0_bins * NUMBERS)
        inside = centres <= self.bins - 4
        lowest = (np.clip(centres - 2.0, 0.0, self.bins - 5.0) + row).astype(np.intp)
        lobes = np.take(flat, lowest)
        for step in range(1, LOBE):
            lobes += np.take(flat, lowest + step)
        between = np.rint(f0_bins * VALLEYS) + row
        noise = np.take(flat, between.astype(np.intp), mode="clip").reshape(len(power), 3, PARTIALS + 1).sum(axis=1)
        under = noise[:, :-1] + noise[:, 1:]
        under *= np.float32(1.0 / 6.0)  # one bin's worth
        partials = lobes - LOBE * under
        np.maximum(partials, 0.0, out=partials)
        partials *= inside * self.scale
        in_band = (f0_hz[:, None] * NUMBERS <= BAND_HZ).astype(np.float32)
        counted = np.maximum(in_band.sum(axis=1), 1.0)
        floor = np.einsum("ij,ij->i", under, in_band) / counted
        peaks = np.einsum("ij,ij->i", lobes, in_band) / counted / LOBE
        prominence = 10.0 * np.log10((peaks + LOWEST_POWER) / (floor + LOWEST_POWER))
        tonal = np.einsum("ij,ij->i", partials, in_band)
        return prominence, tonal, floor * self.scale * np.float32(BAND_HZ / self.bin_hz), partials
