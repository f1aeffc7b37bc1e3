"""Real saxophone takes, where their folder is present: what Praat makes of their tones.

Truth of place and level: the folder's own JSON (the generator's times, K-weighted sums of the clean sound); truth of
pitch, noise and plain level: Praat, read here from the file as PyAV decodes it.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from pathlib import Path

import av
import numpy as np

from analysis.audio import read
from analysis.core.records import Frames, Tone
from analysis.core.spectrum import frames_of
from tests.reference.hearing import praat_hnr_db, praat_intensity_dbfs, praat_pitch_hz, steady
from tests.reference.signals import Samples
from tests.reference.sweep import MISSED, Sweep
from tests.reference.takes import takes


@cache
def decoded(path: Path) -> tuple[Samples, int]:
    with av.open(str(path)) as container:
        frames = [frame.to_ndarray() for frame in container.decode(audio=0)]
        rate_hz = container.streams.audio[0].rate
    samples = np.concatenate([frame.mean(axis=0) if frame.dtype.kind == "f" else frame[0] for frame in frames])
    return samples / (32_768.0 if frames[0].dtype == np.int16 else 1.0), rate_hz


@cache
def framed(path: Path) -> Frames:
    with read(path) as recording:
        return frames_of(recording, "alto")


def tones(dry: bool, every: int = 4) -> Iterator[tuple[Tone, Samples, int, Path]]:
    """Without those that wave: there the median is a looser number, and Praat hears the wave as noise."""
    for real in takes():
        if real.dry == dry:
            samples, rate_hz = decoded(real.path)
            for tone in real.measured().tones[::every]:
                if not tone.vibrato.present:
                    yield tone, samples, rate_hz, real.path


def pitch(dry: bool) -> list[float]:
    errors = []
    for tone, samples, rate_hz, _ in tones(dry):
        theirs = praat_pitch_hz(steady(tone, samples, rate_hz), rate_hz, tone.f0_hz / 1.7, tone.f0_hz * 2)
        errors.append(1200 * np.log2(tone.f0_hz / float(np.median(theirs))))
    return errors


def hnr(dry: bool) -> list[float]:
    """Where Praat reads under 35 dB: above that two methods differ and it no longer matters."""
    errors = []
    for tone, samples, rate_hz, _ in tones(dry, every=2 if dry else 4):
        if tone.hnr_db is None or tone.hnr_db < 42:  # the others are not worth Praat's time
            theirs = praat_hnr_db(steady(tone, samples, rate_hz)[:rate_hz], rate_hz)
            if theirs < 35:
                errors.append(MISSED if tone.hnr_db is None else tone.hnr_db - theirs)
    return errors


def plain_level() -> list[float]:
    errors = []
    for dry in (True, False):
        for tone, samples, rate_hz, path in tones(dry, every=8):
            part = steady(tone, samples, rate_hz)
            blocks = framed(path).plain_power[round(tone.steady_start_s / 0.005) : round(tone.steady_end_s / 0.005)]
            errors.append(10 * np.log10(blocks.mean()) - praat_intensity_dbfs(part, rate_hz))
    return errors


DRY, ROOM = "real alto takes, dry, plain tones", "real alto takes in a room, noise, codecs, plain tones"
SWEEPS = (
    Sweep("pitch", "cents", DRY, "Praat autocorrelation", 0.15, 0.3, lambda: pitch(dry=True)),
    Sweep("pitch", "cents", ROOM, "Praat autocorrelation", 0.3, 0.5, lambda: pitch(dry=False)),
    Sweep("plain level", "dB", "real alto takes", "Praat intensity", 0.1, 0.2, plain_level),
    Sweep("harmonics to noise", "dB", DRY, "Praat cross-correlation", 3.0, 4.0, lambda: hnr(dry=True)),
    Sweep("harmonics to noise", "dB", ROOM, "Praat cross-correlation", 8.0, 10.0, lambda: hnr(dry=False)),
)
