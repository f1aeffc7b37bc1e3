"""Start and stop: where, how fast, from which pitch, with how much air.

Truth: the envelope that the formula was given. Closed forms: a straight rise of T seconds is 20 dB under the tone after
0.1 T and 3 dB under it after 0.708 T, so it reads 0.61 T; a rise of r dB/s takes 17/r s. Second opinion on the place
of the start: librosa's onset strength (spectral flux).
"""

from __future__ import annotations

from functools import cache

import librosa
import numpy as np

from analysis.core.records import Tone
from tests.reference.hearing import PRODUCT_RATE_HZ as RATE_HZ
from tests.reference.hearing import hear
from tests.reference.signals import Samples, band_power_share, between_silences, harmonic, reedy, scaled_to, white
from tests.reference.sweep import MISSED, Sweep

PITCHES = np.geomspace(145, 820, 8)
PAD_S = 0.8


def heard(tone: Samples, floor_dbfs: float = -72) -> Tone | None:
    tones = hear(between_silences(tone, RATE_HZ, floor_dbfs, PAD_S), RATE_HZ).tones
    return tones[0] if len(tones) == 1 else None


def body(f0_hz: float | Samples, seconds: float = 2.0, seed: int = 0) -> Samples:
    return scaled_to(harmonic(f0_hz, reedy(), seconds, RATE_HZ, seed), -22)


def seconds_into(tone: Samples) -> Samples:
    return np.arange(len(tone)) / RATE_HZ


@cache
def straight_rises() -> tuple[tuple[float, Tone | None], ...]:
    out = []
    for i, f0 in enumerate(PITCHES):
        for rise_s in (0.05, 0.1, 0.2):
            tone = body(f0, seed=i)
            t_s = seconds_into(tone)
            out.append((rise_s, heard(tone * np.clip(t_s / rise_s, 0, 1) * np.clip((2.0 - t_s) / 0.04, 0, 1))))
    return tuple(out)


def straight_rise() -> list[float]:
    return [tone.attack.rise_s - 0.608 * rise_s if tone else MISSED for rise_s, tone in straight_rises()]


def start() -> list[float]:
    """20 dB under the tone: after a tenth of the rise."""
    return [1000 * (tone.start_s - PAD_S - 0.1 * rise_s) if tone else MISSED for rise_s, tone in straight_rises()]


def stop() -> list[float]:
    """6 dB under the tone: half way down a straight fall of 40 ms."""
    return [1000 * (tone.end_s - PAD_S - 1.98) if tone else MISSED for _, tone in straight_rises()]


def rise_in_decibels() -> list[float]:
    errors = []
    for i, f0 in enumerate(PITCHES):
        rate = (200.0, 300.0, 500.0)[i % 3]  # dB a second
        tone = body(f0, seed=i)
        t_s = seconds_into(tone)
        found = heard(tone * 10 ** (np.minimum(0, rate * t_s - 40) / 20) * np.clip((2.0 - t_s) / 0.04, 0, 1))
        errors.append(found.attack.rise_s - 17 / rate if found else MISSED)
    return errors


@cache
def scoops() -> tuple[tuple[float, float, Tone | None], ...]:
    """Pitch that slides evenly to its place. (cents at the start, seconds it takes, what was heard)."""
    out = []
    for i, f0 in enumerate(PITCHES):
        for cents, takes_s in ((-60.0, 0.3), (35.0, 0.25), (-25.0, 0.4)):
            t_s = np.arange(2 * RATE_HZ) / RATE_HZ
            bent = f0 * 2 ** (cents * np.clip(1 - t_s / takes_s, 0, 1) / 1200)
            tone = body(bent, seed=i) * np.clip(t_s / 0.03, 0, 1) * np.clip((2.0 - t_s) / 0.04, 0, 1)
            out.append((cents, takes_s, heard(tone)))
    return tuple(out)


def scoop() -> list[float]:
    """Largest deviation 50 to 250 ms after the start is the one at 50 ms."""
    return [tone.attack.scoop_cents - c * (1 - 0.053 / s) if tone else MISSED for c, s, tone in scoops()]


def settle() -> list[float]:
    """Where the slide comes within 10 cents of its place."""
    return [1000 * (tone.attack.settle_s - s * (1 - 10 / abs(c)) + 3e-3) if tone else MISSED for c, s, tone in scoops()]


def airy(i: int, f0: float, air_s: float) -> Samples:
    """White noise 20 dB under the tone (counted to 5 kHz), joined to its start."""
    noise = white(air_s, RATE_HZ, i)
    noise *= 10 ** (-42 / 20) / np.sqrt(np.mean(noise**2) * band_power_share(noise, RATE_HZ, 5_000))
    tone = body(f0, seed=i)
    t_s = seconds_into(tone)
    return np.concatenate((noise, tone * np.clip(t_s / 0.02, 0, 1) * np.clip((2.0 - t_s) / 0.04, 0, 1)))


def air() -> list[float]:
    errors = []
    for i, f0 in enumerate(PITCHES):
        air_s = 0.1 + 0.05 * i
        found = heard(airy(i, f0, air_s))
        errors.append(1000 * (found.attack.air_before_s - air_s) if found else MISSED)
    return errors


def start_against_librosa() -> list[float]:
    """Milliseconds between the start and the strongest spectral flux of librosa (hop 5 ms)."""
    errors = []
    for i, f0 in enumerate(PITCHES):
        tone = body(f0, seed=i)
        t_s = seconds_into(tone)
        take = between_silences(
            tone * np.clip(t_s / 0.03, 0, 1) * np.clip((2.0 - t_s) / 0.04, 0, 1), RATE_HZ, -72, PAD_S
        )
        found = hear(take, RATE_HZ).tones
        flux = librosa.onset.onset_strength(y=take, sr=RATE_HZ, hop_length=120, n_fft=512, center=True)
        errors.append(1000 * (found[0].start_s - np.argmax(flux) * 0.005) if len(found) == 1 else MISSED)
    return errors


SWEEPS = (
    Sweep("start", "ms", "straight rises of 50 to 200 ms", "the formula", 10, 15, start),
    Sweep("start", "ms", "straight rises of 30 ms", "librosa onset strength", 30, 40, start_against_librosa),
    Sweep("stop", "ms", "straight falls of 40 ms", "the formula", 10, 20, stop),
    Sweep("rise", "s", "straight rises of 50 to 200 ms", "closed form 0.61 T", 0.01, 0.015, straight_rise),
    Sweep("rise", "s", "200 to 500 dB a second", "closed form 17/r", 0.01, 0.015, rise_in_decibels),
    Sweep("scoop", "cents", "slides from -60 to 35 cents", "the formula", 4, 6, scoop),
    Sweep("settle", "ms", "slides from -60 to 35 cents", "the formula", 20, 30, settle),
    Sweep("air before", "ms", "noise of 100 to 450 ms", "the formula", 15, 25, air),
)
