"""What the whole chain is compared with: the least anyone could do, and what others do for the same answer."""

from __future__ import annotations

from pathlib import Path

import av
import librosa
import numpy as np
import parselmouth
import soxr
from scipy import fft

from analysis.audio import read
from analysis.core.spectrum import FRAMES_AT_ONCE, HOP_SAMPLES, SAMPLE_RATE_HZ

WINDOW_SAMPLES = 1536  # alto


def decoded(path: Path, rate_hz: int | None = SAMPLE_RATE_HZ) -> np.ndarray:
    """Mono, by PyAV in one thread and soxr, nothing else done to it. No rate: as the file has it."""
    parts: list[np.ndarray] = []
    with av.open(str(path)) as container:
        stream = container.streams.audio[0]
        stream.thread_count = 1
        resampler = soxr.ResampleStream(stream.rate, rate_hz or stream.rate, 1, dtype="float32", quality="HQ")
        held: list[np.ndarray] = []
        for frame in container.decode(stream):
            held.append(frame.to_ndarray()[0])
            if len(held) == 100:
                parts.append(resampler.resample_chunk(np.concatenate(held)))
                held = []
        parts.append(resampler.resample_chunk(np.concatenate([*held, np.zeros(0, np.float32)]), last=True))
    return np.concatenate(parts)


def decode_and_transform(path: Path) -> None:
    """The least that can be done with a stranger's file: the product's own bounded decoder, then one transform."""
    with read(path) as recording:
        transform(np.concatenate(list(recording)))


def bare_decode_and_transform(path: Path) -> None:
    """The same without the decoder's own process: what a script would do with a file that it trusts."""
    transform(decoded(path))


def transform(samples: np.ndarray) -> None:
    """One short-time Fourier transform with the product's own window, hop and block length."""
    padded = np.pad(samples, WINDOW_SAMPLES // 2)
    window = np.hanning(WINDOW_SAMPLES + 1)[:-1].astype(np.float32)
    frames = np.lib.stride_tricks.sliding_window_view(padded, WINDOW_SAMPLES)[::HOP_SAMPLES]
    for start in range(0, len(frames), FRAMES_AT_ONCE):
        fft.rfft(frames[start : start + FRAMES_AT_ONCE] * window, axis=1)


def praat(samples: np.ndarray, rate_hz: int) -> None:
    """Pitch, intensity and harmonicity every 10 ms, of the sound as recorded, from Praat's usual floor of 75 Hz on."""
    sound = parselmouth.Sound(samples.astype(np.float64), rate_hz)
    sound.to_pitch_ac(time_step=0.01, pitch_floor=75, pitch_ceiling=1_000)
    sound.to_intensity(minimum_pitch=75, time_step=0.01)
    sound.to_harmonicity_cc(time_step=0.01, minimum_pitch=75)


def pyin(samples: np.ndarray) -> None:
    """librosa's probabilistic yin every 10 ms, with the range of its own example (C2 to C7): pitch alone."""
    low_hz, high_hz = librosa.note_to_hz("C2"), librosa.note_to_hz("C7")
    librosa.pyin(samples, fmin=low_hz, fmax=high_hz, sr=SAMPLE_RATE_HZ, frame_length=2048, hop_length=HOP_SAMPLES)
