"""Test signals from formulas alone: sines, partials, noise. Nothing here knows the code that is tested."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray
from scipy.signal import firwin, lfilter

Samples = NDArray[np.float64]


def times(seconds: float, rate_hz: int) -> Samples:
    return np.arange(round(seconds * rate_hz)) / rate_hz


def sine(f_hz: float, peak_dbfs: float, seconds: float, rate_hz: int) -> Samples:
    return 10 ** (peak_dbfs / 20) * np.sin(2 * np.pi * f_hz * times(seconds, rate_hz))


def in_a_row(f_hz: float, parts: Sequence[tuple[float | None, float]], rate_hz: int) -> Samples:
    """(peak dBFS or None for silence, seconds) one after another, the sine running on in one phase."""
    level = np.concatenate(
        [np.full(round(seconds * rate_hz), 0.0 if db is None else 10 ** (db / 20)) for db, seconds in parts]
    )
    return level * np.sin(2 * np.pi * f_hz * np.arange(len(level)) / rate_hz)


def harmonic(
    f0_hz: Samples | float, amplitudes: Sequence[float], seconds: float, rate_hz: int, seed: int = 0
) -> Samples:
    """Partials 1, 2, … of a fundamental (a number, or one value a sample) with random phases, below 0.45 x rate."""
    t_s = times(seconds, rate_hz)
    f0 = np.broadcast_to(np.asarray(f0_hz, dtype=float), t_s.shape)
    turns = np.concatenate(([0.0], np.cumsum(f0[:-1]))) / rate_hz
    phases = np.random.default_rng(seed).uniform(0, 2 * np.pi, len(amplitudes))
    out = np.zeros_like(t_s)
    for k, amplitude in enumerate(amplitudes, 1):
        if amplitude and k * f0.max() < 0.45 * rate_hz:
            out += amplitude * np.sin(2 * np.pi * k * turns + phases[k - 1])
    return out


def reedy(count: int = 20, db_per_octave: float = 6.0) -> NDArray[np.float64]:
    """Amplitudes that fall by so much an octave (6: a sawtooth)."""
    return np.arange(1, count + 1.0) ** (-db_per_octave / (20 * np.log10(2)))


def scaled_to(samples: Samples, rms_dbfs: float) -> Samples:
    return samples * 10 ** (rms_dbfs / 20) / np.sqrt(np.mean(samples**2))


def white(seconds: float, rate_hz: int, seed: int = 0) -> Samples:
    """Of mean square 1."""
    return np.random.default_rng(seed).standard_normal(round(seconds * rate_hz))


def band_power_share(samples: Samples, rate_hz: int, up_to_hz: float) -> float:
    power = np.abs(np.fft.rfft(samples)) ** 2
    return float(power[np.fft.rfftfreq(len(samples), 1 / rate_hz) <= up_to_hz].sum() / power.sum())


def edged(samples: Samples, rate_hz: int, rise_s: float = 0.03, fall_s: float = 0.03) -> Samples:
    """Straight rise and fall at the ends."""
    t_s = np.arange(len(samples)) / rate_hz
    return samples * np.clip(t_s / rise_s, 0, 1) * np.clip((t_s[-1] - t_s) / fall_s, 0, 1)


def between_silences(samples: Samples, rate_hz: int, floor_dbfs: float = -80.0, pad_s: float = 0.6) -> Samples:
    """With ``pad_s`` before and after, over steady white noise of that RMS."""
    pad = np.zeros(round(pad_s * rate_hz))
    take = np.concatenate((pad, samples, pad))
    return take + 10 ** (floor_dbfs / 20) * np.random.default_rng(99).standard_normal(len(take))


def low_passed(samples: Samples, rate_hz: int, cut_hz: float) -> Samples:
    taps = firwin(401, cut_hz, fs=rate_hz)
    return np.asarray(lfilter(taps, 1.0, np.concatenate((samples, np.zeros(200))))[200:])


def row_of_tones(
    tones: Sequence[Samples], rate_hz: int, noise_dbfs: float = -80.0, gap_s: float = 0.7
) -> tuple[Samples, list[float]]:
    """Tones one after another over steady white noise of that RMS, and when each starts (s)."""
    gap = np.zeros(round(gap_s * rate_hz))
    parts, starts, at = [gap], [], len(gap)
    for tone in tones:
        starts.append(at / rate_hz)
        parts += [tone, gap]
        at += len(tone) + len(gap)
    take = np.concatenate(parts)
    return take + 10 ** (noise_dbfs / 20) * np.random.default_rng(99).standard_normal(len(take)), starts
