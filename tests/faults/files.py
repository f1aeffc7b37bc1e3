"""Sound files and things that pretend to be some, made by hand or by FFmpeg's own encoders (through PyAV)."""

from __future__ import annotations

import struct
from pathlib import Path
from typing import Any

import av
import numpy as np
from numpy.typing import NDArray

RATE_HZ = 48_000
Samples = NDArray[np.float32]


def horn(seconds: float, f0_hz: float = 220.0, rate_hz: int = RATE_HZ) -> Samples:
    """A steady tone with eleven partials, quiet enough not to clip."""
    at_s = np.arange(int(seconds * rate_hz)) / rate_hz
    waves = (0.1 / h * np.sin(2 * np.pi * f0_hz * h * at_s) for h in range(1, 12))
    return np.sum(list(waves), axis=0).astype(np.float32)


def wav(path: Path, samples: Samples, *, rate_hz: int = RATE_HZ, channels: int = 1, floats: bool = False) -> Path:
    """A WAV by hand: its head may be made to lie afterwards (rate at byte 24, channels at 22, data size at 40)."""
    data = samples.astype("<f4").tobytes() if floats else np.round(samples * 32767).astype("<i2").tobytes()
    width = 4 if floats else 2
    form = struct.pack(
        "<HHIIHH", 3 if floats else 1, channels, rate_hz, rate_hz * channels * width, channels * width, 8 * width
    )
    head = b"RIFF" + struct.pack("<I", 36 + len(data)) + b"WAVEfmt " + struct.pack("<I", 16) + form
    path.write_bytes(head + b"data" + struct.pack("<I", len(data)) + data)
    return path


def changed(path: Path, at: int, what: bytes) -> Path:
    content = bytearray(path.read_bytes())
    content[at : at + len(what)] = what
    path.write_bytes(bytes(content))
    return path


def encoded(path: Path, samples: Samples, codec: str, *, rate_hz: int = RATE_HZ, **how: Any) -> Path:
    """One track of sound; ``container``, ``layout``, ``metadata`` as PyAV knows them."""
    layout = how.get("layout", "mono")
    with av.open(str(path), "w", format=how.get("container")) as container:
        container.metadata.update(how.get("metadata", {}))
        stream = container.add_stream(codec, rate=rate_hz)
        stream.codec_context.layout = layout
        channels = stream.codec_context.channels
        for at in range(0, len(samples), 4096):
            part = np.repeat(samples[None, at : at + 4096], channels, axis=0)
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(part.T).reshape(1, -1), format="flt", layout=layout)
            frame.sample_rate, frame.pts = rate_hz, at
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path


def pictures_only(path: Path) -> Path:
    """A video without sound."""
    with av.open(str(path), "w") as container:
        stream = container.add_stream("mpeg4", rate=10)
        stream.codec_context.width = stream.codec_context.height = 32
        for number in range(5):
            frame = av.VideoFrame.from_ndarray(np.full((32, 32, 3), 40 * number, np.uint8), format="rgb24")
            container.mux(stream.encode(frame))
        container.mux(stream.encode(None))
    return path
