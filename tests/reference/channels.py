"""Files of several channels, written by FFmpeg's own encoders (through PyAV)."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import av
import numpy as np

from tests.reference.signals import Samples

RATE_HZ = 48_000


def file_of(
    path: Path, *channels: Samples, codec: str = "flac", layout: str = "stereo", rate_hz: int = RATE_HZ
) -> Path:
    """One track; the suffix names the container."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream(codec, rate=rate_hz, layout=layout)
        kind = stream.codec_context.format.name
        whole = np.stack(channels).astype(np.float32)
        for at in range(0, whole.shape[1], 4096):
            part = np.ascontiguousarray(whole[:, at : at + 4096])
            if kind.startswith("s16"):
                part = np.ascontiguousarray(np.round(32_767 * part).astype(np.int16).T.reshape(1, -1))
            frame = av.AudioFrame.from_ndarray(part, format=kind, layout=layout)
            frame.sample_rate, frame.pts, frame.time_base = rate_hz, at, Fraction(1, rate_hz)
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path
