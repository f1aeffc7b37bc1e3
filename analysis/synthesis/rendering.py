"""Tones, breaths and silence in a row: the whole take, and the truth about every tone of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.tables import hz_of_midi
from analysis.core.tables import instrument as instrument_named
from analysis.synthesis.curves import draw
from analysis.synthesis.noises import Noises, stretch
from analysis.synthesis.placing import placed
from analysis.synthesis.sounding import Part, phrase
from analysis.synthesis.specs import DYNAMIC_DB, SAMPLE_RATE_HZ, Place, ToneSpec, Truth
from analysis.synthesis.spectra import voice
from analysis.synthesis.truth import truth_of

if TYPE_CHECKING:
    from analysis.core.records import Floats

LEAD_S, TAIL_S = 0.6, 0.5
BREATH_S = 0.4
BREATH_DBFS = -50.0  # 24 dB under a tone played mf


def render(
    specs: Sequence[ToneSpec],
    instrument: str = "alto",
    a4_hz: float = 440.0,
    seed: int = 0,
    place: Place | None = None,
) -> tuple[Floats, list[Truth]]:
    """Sounds the tones one after another: float32 samples at 48 kHz, mono, and the truth of each tone.

    The same arguments give the same samples. ``specs`` without tones gives the place alone, for ``LEAD_S + TAIL_S``.
    """
    rng = np.random.default_rng(seed)
    noises = Noises.draw(rng)
    sounded: list[tuple[int, Floats]] = []
    truths: list[Truth] = []
    now_s = LEAD_S
    for tones in _phrases(specs):
        parts = [_part(spec, instrument, a4_hz, rng, slurred_in=i > 0) for i, spec in enumerate(tones)]
        samples, before_s = phrase(parts, noises, rng)
        now_s += max(0.0, before_s - tones[0].faults.rise_s)  # air needs its own time before the start
        sounded.append((round((now_s - before_s) * SAMPLE_RATE_HZ), samples))
        for part in parts:
            truths.append(truth_of(part, instrument, a4_hz, now_s))
            now_s += part.spec.seconds
        gap_s = tones[-1].gap_s
        if tones[-1].breath and gap_s >= BREATH_S:
            sounded.append(_breath(now_s + (gap_s - BREATH_S) / 2, noises, rng))
        now_s += gap_s
    take = np.zeros(round((now_s + TAIL_S) * SAMPLE_RATE_HZ), dtype=np.float32)
    for start, samples in sounded:
        take[start : start + len(samples)] += samples
    return placed(take, place or Place(), noises, rng), truths


def _phrases(specs: Sequence[ToneSpec]) -> list[list[ToneSpec]]:
    phrases: list[list[ToneSpec]] = []
    goes_on = False
    for i, spec in enumerate(specs):
        if spec.slurred and i == len(specs) - 1:
            spec = replace(spec, slurred=False)  # nothing to run into
        if goes_on:
            phrases[-1].append(spec)
        else:
            phrases.append([spec])
        goes_on = spec.slurred
    return phrases


def _part(spec: ToneSpec, instrument: str, a4_hz: float, rng: np.random.Generator, slurred_in: bool) -> Part:
    if spec.dynamic not in DYNAMIC_DB:
        raise ValueError(f"no dynamic is called {spec.dynamic!r}: use one of {', '.join(DYNAMIC_DB)}")
    if spec.seconds < 0.2:
        raise ValueError(f"a tone of {spec.seconds} s is too short to be one: 0.2 s or more")
    sounding = spec.written_midi + instrument_named(instrument).sounds_semitones
    target_hz = hz_of_midi(sounding, a4_hz) * (spec.partial or 1)
    return Part(spec, draw(spec, rng, slurred_in), voice(instrument, target_hz), target_hz)


def _breath(start_s: float, noises: Noises, rng: np.random.Generator) -> tuple[int, Floats]:
    n = round(BREATH_S * SAMPLE_RATE_HZ)
    hump = np.sin(np.pi * np.arange(n) / n) ** 2
    level = 10 ** ((BREATH_DBFS + rng.uniform(-3, 3)) / 20)
    return round(start_s * SAMPLE_RATE_HZ), (level * hump * stretch(noises.breath, n, rng)).astype(np.float32)
