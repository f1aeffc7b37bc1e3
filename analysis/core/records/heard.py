"""What was heard, on the way: the container, every frame of the sound, where tones lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:  # the web process reads records too and is spared the import
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float32]
    Doubles = NDArray[np.float64]


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

    lowest_hz: float  # the horn's lowest note with the usual keys
    hop_s: float
    f0_hz: Doubles  # (frames,) refined candidate, whether or not a tone sounds
    spread_cents: Floats  # (frames,) disagreement of the partials about f0: < 1 dry, < 6 room, > 60 no tone
    prominence_db: Floats  # (frames,) partials over the valleys between them, to 5 kHz
    tonal_power: Floats  # (frames,) to 5 kHz
    noise_power: Floats  # (frames,) to 5 kHz
    partials: Floats  # (frames, 20)
    bands: Floats  # (looks, 8) mean square of an average bin of each band of bands.py; look k is at frame 4 + 8 k
    other_hz: Floats  # (looks,) a second pitch beside f0, 0 if there is none; look k is at frame 8 + 16 k
    other_power: Floats  # (looks,) of its partials
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
