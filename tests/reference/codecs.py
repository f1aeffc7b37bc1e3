"""Round trips through the codecs of phones: encoded here by PyAV, decoded and heard by the product."""

from __future__ import annotations

import tempfile
from fractions import Fraction
from functools import cache
from pathlib import Path

import av
import numpy as np

from analysis.core.records import Measurement
from tests.reference.hearing import hear_file
from tests.reference.signals import edged, harmonic, reedy, row_of_tones, scaled_to

RATE_HZ = 48_000
PITCHES = (139.0, 440.0)
FORMS = {  # name -> suffix, container, encoder, bit rate
    "PCM": ("wav", "wav", "pcm_s16le", 0),
    "Opus 16k": ("webm", "webm", "libopus", 16_000),
    "Opus 32k": ("ogg", "ogg", "libopus", 32_000),
    "Opus 64k": ("webm", "webm", "libopus", 64_000),
    "AAC 64k": ("m4a", "mp4", "aac", 64_000),
    "AAC 128k": ("m4a", "mp4", "aac", 128_000),
}


def encode(path: Path, samples: np.ndarray, container: str, encoder: str, bit_rate: int) -> None:
    with av.open(str(path), "w", format=container) as out:
        stream = out.add_stream(encoder, rate=RATE_HZ, layout="mono")
        if bit_rate:
            stream.bit_rate = bit_rate
        kind = stream.codec_context.format.name
        for start in range(0, len(samples), RATE_HZ):
            part = samples[None, start : start + RATE_HZ].astype(np.float32)
            values = np.round(32_767 * part).astype(np.int16) if kind == "s16" else part
            frame = av.AudioFrame.from_ndarray(np.ascontiguousarray(values), format=kind, layout="mono")
            frame.sample_rate, frame.pts, frame.time_base = RATE_HZ, start, Fraction(1, RATE_HZ)
            out.mux(stream.encode(frame))
        out.mux(stream.encode(None))


@cache
def sounded(hnr_db: float) -> np.ndarray:
    """Bright (15 partials, 1/k) tones of 3 s at 139 and 440 Hz, twice, over steady noise; the ratio counts to 5 kHz."""
    tones = [
        edged(scaled_to(harmonic(f0, reedy(15), 3.0, RATE_HZ, i), -20), RATE_HZ) for i, f0 in enumerate(PITCHES * 2)
    ]
    noise_dbfs = -20 - hnr_db + 10 * np.log10(RATE_HZ / 2 / 5_000)
    return row_of_tones(tones, RATE_HZ, noise_dbfs)[0]


@cache
def heard(form: str, hnr_db: float) -> tuple[np.ndarray, Measurement]:
    """The take as it comes out of the codec, by PyAV alone, and what the product makes of the file."""
    suffix, container, encoder, bit_rate = FORMS[form]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, f"take.{suffix}")
        encode(path, sounded(hnr_db), container, encoder, bit_rate)
        with av.open(str(path)) as coded:
            samples = np.concatenate([frame.to_ndarray()[0] for frame in coded.decode(audio=0)]).astype(float)
        return samples / (32_768 if encoder == "pcm_s16le" else 1), hear_file(path, instrument="alto")
