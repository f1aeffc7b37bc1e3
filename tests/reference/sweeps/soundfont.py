"""The whole chain on SoundFont saxophones: found, named, timed, and in pitch and noise as Praat reads them."""

from __future__ import annotations

from functools import cache

import numpy as np

from analysis.core.records import Tone
from tests.reference.hearing import hear, matched, praat_hnr_db, praat_intensity_dbfs, praat_pitch_hz, steady
from tests.reference.soundfont import PROGRAMS, RATE_HZ, SOUND_FONTS, Played, played
from tests.reference.sweep import MISSED, Sweep


@cache
def heard() -> tuple[tuple[Played, int, float, Tone | None], ...]:
    """(what was played, written note, when, what was heard), two fonts, four horns; extra tones count as missed."""
    out: list[tuple[Played, int, float, Tone | None]] = []
    for font in SOUND_FONTS:
        for horn in PROGRAMS:
            music = played(font, horn)
            tones = hear(music.samples, RATE_HZ, instrument=horn).tones
            found = matched(tones, music.starts_s)
            out += zip([music] * len(found), music.written, music.starts_s, found, strict=True)
            out += [(music, 0, 0.0, None)] * (len(tones) - sum(tone is not None for tone in found))
    return tuple(out)


def named() -> list[float]:
    return [float(tone.written_midi - written) if tone else MISSED for _, written, _, tone in heard()]


def start() -> list[float]:
    return [1000 * (tone.start_s - start_s) if tone else MISSED for _, _, start_s, tone in heard()]


def pitch(waving: bool) -> list[float]:
    """Some of these sets carry a wave of 10 to 16 cents SD: the median of a few cycles of that is a looser number."""
    errors = []
    for music, _, _, tone in heard():
        if tone is None:
            errors.append(MISSED)
            continue
        theirs = praat_pitch_hz(steady(tone, music.samples, RATE_HZ), RATE_HZ, tone.f0_hz / 1.7, tone.f0_hz * 2.2)
        cents = 1200 * np.log2(theirs / tone.f0_hz)
        if (cents.std() > WAVING_CENTS) == waving:
            errors.append(float(np.mean(cents) if waving else np.median(cents)))
    return errors


def hnr() -> list[float]:
    """Tones without a wave where both read under 40 dB: above that two methods differ and it no longer matters.

    A looped sample has no breath but sidebands close to its partials: noise to one method, tone to the other.
    """
    errors = []
    for music, _, _, tone in heard()[::2]:
        if tone is None or tone.hnr_db is None:
            errors.append(MISSED)
            continue
        part = steady(tone, music.samples, RATE_HZ)
        waving = 1200 * np.log2(praat_pitch_hz(part, RATE_HZ, tone.f0_hz / 1.7, tone.f0_hz * 2.2) / tone.f0_hz)
        theirs = praat_hnr_db(part, RATE_HZ, tone.f0_hz / 1.7)
        if max(theirs, tone.hnr_db) < 40 and waving.std() < WAVING_CENTS:
            errors.append(tone.hnr_db - theirs)
    return errors


def level_steps() -> list[float]:
    """Level against Praat's intensity: the difference between two neighbours of one set, in dB.

    K and plain level differ by what the K curve does to the colour, which hardly changes between neighbours.
    """
    errors = []
    pairs = [(m, a, b) for (m, _, _, a), (n, _, _, b) in zip(heard(), heard()[1:], strict=False) if m is n]
    for music, one, other in pairs:
        if one is None or other is None:
            errors.append(MISSED)
            continue
        ours = other.level_db - one.level_db
        theirs = [praat_intensity_dbfs(steady(tone, music.samples, RATE_HZ), RATE_HZ) for tone in (one, other)]
        errors.append(ours - (theirs[1] - theirs[0]))
    return errors


WAVING_CENTS = 3.0
BOTH = "SoundFont saxophones, FluidR3 and TimGM6mb"
SWEEPS = (
    Sweep("note name", "semitones", BOTH, "the MIDI file played", 0, 0, named),
    Sweep("start", "ms", BOTH, "the MIDI file played", 25, 30, start),
    Sweep("pitch", "cents", f"{BOTH}, plain", "Praat autocorrelation", 1.5, 2.0, lambda: pitch(waving=False)),
    Sweep("pitch", "cents", f"{BOTH}, waving", "Praat autocorrelation, mean", 2.5, 4.0, lambda: pitch(waving=True)),
    Sweep("level step", "dB", BOTH, "Praat intensity", 1.5, 2.5, level_steps),
    Sweep("harmonics to noise", "dB", BOTH, "Praat cross-correlation", 8.0, 10.0, hnr),
)
