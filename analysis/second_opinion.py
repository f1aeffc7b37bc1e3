"""A second opinion on the pitch of every tone, by another method in other hands: librosa's yin.

For whoever doubts a number, and only then. In the measuring itself librosa has no place: loading it takes 65 MB of
every worker and 0.3 s of every cold start, and yin alone takes seven times as long as our whole search for the pitch.

Source: de Cheveigné & Kawahara 2002, "YIN, a fundamental frequency estimator for speech and music", JASA 111:1917.
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import librosa
import numpy as np

from analysis.audio import read
from analysis.core.spectrum import SAMPLE_RATE_HZ
from analysis.core.tables import hz_of_midi, instrument, note_sign
from analysis.core.units import cents_between, median

if TYPE_CHECKING:
    from analysis.core.records import Floats, Measurement, Tone

LONGEST_S = 4.0  # of each tone, from its middle: a dozen waves of a slow vibrato
FRAME_SAMPLES, HOP_SAMPLES = 4096, 480  # eight periods of the lowest note of a bass
ABOVE_KEYS_SEMITONES, BELOW_SEMITONES = 24, 2  # the search knows the horn, never what we heard
AGREE_CENTS = 5.0  # ours: a good ear hears no difference, and yin alone lies up to 2 cents off


@dataclass(frozen=True, slots=True)
class Opinion:
    """``f0_hz``: what yin hears in the steady part; ``apart_cents``: how far that lies above what we heard."""

    tone: Tone
    f0_hz: float
    apart_cents: float


def second_opinion(path: str | os.PathLike[str], measurement: Measurement, horn_name: str) -> tuple[Opinion, ...]:
    """One for each readable tone. The file is decoded once more, as nothing holds its sound. Raises ``Fault``."""
    horn = instrument(horn_name)
    low_hz = hz_of_midi(horn.lowest_sounding - BELOW_SEMITONES)
    high_hz = hz_of_midi(horn.sounding(horn.highest_written) + ABOVE_KEYS_SEMITONES)
    tones = [tone for tone in measurement.tones if tone.readable]
    with read(path) as recording:
        middles = _middles(recording, tones)
    return tuple(_opinion(tone, middle, low_hz, high_hz) for tone, middle in zip(tones, middles, strict=True))


def _opinion(tone: Tone, samples: Floats, low_hz: float, high_hz: float) -> Opinion:
    samples = np.pad(samples, (0, max(0, FRAME_SAMPLES - len(samples))))
    courses = librosa.yin(
        samples,
        fmin=low_hz,
        fmax=high_hz,
        sr=SAMPLE_RATE_HZ,
        frame_length=FRAME_SAMPLES,
        hop_length=HOP_SAMPLES,
        center=False,
    )
    f0_hz = median(courses)
    return Opinion(tone, f0_hz, cents_between(f0_hz, tone.f0_hz))


def _middles(blocks: Iterable[Floats], tones: Sequence[Tone]) -> list[Floats]:
    """The middle of each tone's steady part, as the sound streams by."""
    bounds = [_bounds(tone) for tone in tones]
    parts: list[list[Floats]] = [[] for _ in tones]
    at = 0
    for block in blocks:
        for part, (first, end) in zip(parts, bounds, strict=True):
            if first < at + len(block) and end > at:
                part.append(block[max(0, first - at) : end - at])
        at += len(block)
    return [np.concatenate([np.zeros(0, np.float32), *part]) for part in parts]


def _bounds(tone: Tone) -> tuple[int, int]:
    """First sample and the one after the last."""
    middle_s = (tone.steady_start_s + tone.steady_end_s) / 2
    half_s = min(LONGEST_S, tone.steady_end_s - tone.steady_start_s) / 2
    return round((middle_s - half_s) * SAMPLE_RATE_HZ), round((middle_s + half_s) * SAMPLE_RATE_HZ)


def told(opinions: Sequence[Opinion]) -> list[str]:
    """The opinions in lines, those that agree counted, the others named."""
    if not opinions:
        return ["Second opinion: there is no tone to ask about."]
    apart = [abs(one.apart_cents) for one in opinions]
    agreed = sum(cents <= AGREE_CENTS for cents in apart)
    lines = [
        f"Second opinion (librosa's yin): {agreed} of {len(opinions)} tones within {AGREE_CENTS:.0f} cents, "
        f"half of all within {median(apart):.1f}."
    ]
    lines += [
        f"  {note_sign(one.tone.written_midi)} ({one.tone.index + 1}): {one.apart_cents:+.0f} cents. "
        "Listen there before you trust either."
        for one in opinions
        if abs(one.apart_cents) > AGREE_CENTS
    ]
    return lines
