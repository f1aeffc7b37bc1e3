"""Writes samples in the forms that phones send."""

from __future__ import annotations

from collections.abc import Iterable
from fractions import Fraction
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import av
import numpy as np

from analysis.synthesis.specs import SAMPLE_RATE_HZ

if TYPE_CHECKING:
    from analysis.core.records import Floats

Codec = Literal["wav", "flac", "ogg", "webm", "m4a", "mp3"]

# name -> container, encoder, sample format, bit rate when none is asked for
FORMS: dict[Codec, tuple[str, str, str, int | None]] = {
    "wav": ("wav", "pcm_s16le", "s16", None),
    "flac": ("flac", "flac", "s16", None),
    "ogg": ("ogg", "libopus", "fltp", 96_000),
    "webm": ("webm", "libopus", "fltp", 96_000),
    "m4a": ("mp4", "aac", "fltp", 128_000),
    "mp3": ("mp3", "libmp3lame", "fltp", 128_000),
}
CHUNK = 48_000


def write(
    path: Path | str, samples: Floats | Iterable[Floats], codec: Codec = "flac", bit_rate_bps: int | None = None
) -> None:
    """Writes 48 kHz mono samples (one array, or arrays one after another). The same samples give the same bytes."""
    if codec not in FORMS:
        raise ValueError(f"cannot write {codec!r}: choose one of {', '.join(FORMS)}")
    container_format, encoder, sample_format, usual_rate = FORMS[codec]
    arrays = [samples] if isinstance(samples, np.ndarray) else samples
    with av.open(str(path), "w", format=container_format, options={"fflags": "+bitexact"}) as container:
        stream = container.add_stream(encoder, rate=SAMPLE_RATE_HZ, layout="mono", format=sample_format)
        assert isinstance(stream, av.AudioStream)
        stream.codec_context.flags |= av.codec.context.Flags.bitexact.value
        if usual_rate:
            stream.bit_rate = bit_rate_bps or usual_rate
        done = 0
        for array in arrays:
            for start in range(0, len(array), CHUNK):
                frame = _frame(array[start : start + CHUNK], sample_format, done)
                done += frame.samples
                container.mux(stream.encode(frame))
        container.mux(stream.encode(None))


def _frame(samples: Floats, sample_format: str, at: int) -> av.AudioFrame:
    if sample_format == "s16":
        whole = np.round(np.clip(samples, -1, 32767 / 32768) * 32768).astype(np.int16)
        frame = av.AudioFrame.from_ndarray(whole[None, :], format=sample_format, layout="mono")
    else:
        plain = np.ascontiguousarray(samples, dtype=np.float32)
        frame = av.AudioFrame.from_ndarray(plain[None, :], format=sample_format, layout="mono")
    frame.sample_rate, frame.pts, frame.time_base = SAMPLE_RATE_HZ, at, Fraction(1, SAMPLE_RATE_HZ)
    return frame
