"""What room, phone and microphone do to the player's sound, in the order in which it happens."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import butter, fftconvolve, oaconvolve, sosfilt

from analysis.synthesis.noises import Noises, stretch
from analysis.synthesis.specs import SAMPLE_RATE_HZ, GainControl, Place, Room

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Floats

BLOCK = SAMPLE_RATE_HZ // 100  # gain control and noise gate look every 10 ms
GATE_DB = -18.0


def placed(sound: Floats, place: Place, noises: Noises, rng: np.random.Generator) -> Floats:
    """The sound as the phone would have stored it, clipped to full scale."""
    if place.room:
        sound = oaconvolve(sound, _reflections(place.room, rng))[: len(sound)].astype(np.float32)
    if place.noise_dbfs is not None:
        sound = sound + np.float32(10 ** (place.noise_dbfs / 20)) * stretch(noises.background, len(sound), rng)
    if place.hum_dbfs is not None:
        sound = sound + _hum(len(sound), place.hum_dbfs)
    if place.low_pass_hz:
        sos = butter(6, place.low_pass_hz, fs=SAMPLE_RATE_HZ, output="sos")
        sound = sosfilt(sos.astype(np.float32), sound).astype(np.float32)
    if place.suppress_below_dbfs is not None:
        sound = _turned(sound, _gate_db(_envelope_dbfs(sound), place.suppress_below_dbfs))
    if place.gain_control:
        sound = _turned(sound, _gain_control_db(_envelope_dbfs(sound), place.gain_control))
    return np.clip(sound * np.float32(10 ** (place.gain_db / 20)), -1.0, 1.0)


def _reflections(room: Room, rng: np.random.Generator) -> Floats:
    """An impulse response: the direct sound, then noise that dies away.

    The ratio asked for holds in the band of the tones: walls take the highs first, and what they took is not made up
    for by more of the rest.
    """
    n = round(room.decay_s * SAMPLE_RATE_HZ)
    gap = round(room.first_reflection_s * SAMPLE_RATE_HZ)
    tail = rng.standard_normal(n) * 10 ** (-3 * np.arange(n) / n)
    tail *= 10 ** (-room.direct_to_reverberant_db / 20) / np.sqrt(np.sum(tail**2))
    tail = fftconvolve(tail, np.hanning(7) / np.hanning(7).sum(), mode="same")
    return np.concatenate(([1.0], np.zeros(gap), tail)).astype(np.float32)


def _hum(samples: int, hum_dbfs: float) -> Floats:
    t_s = np.arange(samples) / SAMPLE_RATE_HZ
    wave = np.sin(2 * np.pi * 50 * t_s) + 0.5 * np.sin(2 * np.pi * 100 * t_s) + 0.3 * np.sin(2 * np.pi * 150 * t_s)
    return np.asarray(10 ** (hum_dbfs / 20) * wave / np.sqrt(1.34 / 2), dtype=np.float32)


def _envelope_dbfs(sound: Floats) -> Doubles:
    blocks = np.resize(sound, (-(-len(sound) // BLOCK), BLOCK))
    return np.asarray(10 * np.log10(np.mean(np.square(blocks, dtype=np.float64), axis=1) + 1e-12))


def _gate_db(envelope_dbfs: Doubles, threshold_dbfs: float) -> Doubles:
    held = np.convolve(envelope_dbfs > threshold_dbfs, np.ones(21), "same") > 0  # stays open 0.1 s either side
    return np.where(held, 0.0, GATE_DB)


def _gain_control_db(envelope_dbfs: Doubles, control: GainControl) -> Doubles:
    """Follows block after block, as it would on a phone: each gain leans on the one before."""
    gain_db, gains = 0.0, np.empty(len(envelope_dbfs))
    down, up = (1 - np.exp(-BLOCK / SAMPLE_RATE_HZ / tau_s) for tau_s in (control.down_s, control.up_s))
    for i, level in enumerate(envelope_dbfs):
        wanted = min(control.target_dbfs - level, control.most_gain_db)
        gain_db += (down if wanted < gain_db else up) * (wanted - gain_db)
        gains[i] = gain_db
    return gains


def _turned(sound: Floats, gain_db: Doubles) -> Floats:
    """The sound with a gain of one value a block, joined by straight lines."""
    gain = 10 ** (gain_db / 20)
    ramp = np.arange(BLOCK) / BLOCK
    line = (gain[:, None] + np.diff(gain, append=gain[-1])[:, None] * ramp).ravel()
    return np.asarray(sound * line[: len(sound)], dtype=np.float32)
