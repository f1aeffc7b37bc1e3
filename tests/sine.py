"""A sound that any player opens, where a test needs no more of it."""

from __future__ import annotations

import io
import math
import struct
import wave


def sound(seconds: float, rate_hz: int) -> bytes:
    """A quiet sine of 220 Hz as a WAV file."""
    samples = (int(3000 * math.sin(2 * math.pi * 220 * n / rate_hz)) for n in range(int(seconds * rate_hz)))
    kept = io.BytesIO()
    with wave.open(kept, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(2)
        file.setframerate(rate_hz)
        file.writeframes(b"".join(struct.pack("<h", sample) for sample in samples))
    return kept.getvalue()
