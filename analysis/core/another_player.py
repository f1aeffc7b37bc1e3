"""Somebody else plays: a second pitch that holds inside a tone, or two at once where neither could be told as a tone.

A second pitch counts when it stays where it is for half a second without dying away (the tail of the note before does,
in any room) and no more than 25 dB under the tone. Under 10 dB it spoils what is read from the whole sound; from there
on the pitch too, and nobody knows any more whose tone it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.hum import is_mains
from analysis.core.not_tones import TAIL_DB_PER_S
from analysis.core.second_series import EVERY_FRAMES, FIRST_FRAME
from analysis.core.units import decibels, median, midi_of_hz
from analysis.core.voicing import DIGITAL_SILENCE, hums

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.core.records import Frames, Tone
    from analysis.core.tones import Found

    Flags = NDArray[np.bool_]
    Places = NDArray[np.intp]

CODE = "another_player"
FAINTEST_DB, SPOILS_ALL_DB = -25.0, -10.0  # to the tone
LEAST_LOOKS, LEAST_LOOKS_BETWEEN = 4, 5  # 0.16 s apart, 0.17 s long each: 0.65 and 0.8 s
SAME_SEMITONES = 0.5
AFTER_TONE_S, LOUD_PERCENTILE = 0.35, 95  # outside tones the 25 dB are those under what is loud in the take
# Hum: beside so many tones, and so much of all that shows a second pitch; or heard in the pauses. Beside a horn its
# series is read less surely: of eight partials those that the tone covers are guessed.
MAINS_CENTS, LEAST_BESIDE, MAINS_SHARE, BESIDE_MAINS_CENTS = 20.0, 3, 0.5, 60.0
SPOILT = ("hnr_db", "colour", "level_db", "level_spread_db", "level_drift_db_per_s", "shape", "pitch_spread_cents")


def told(frames: Frames, found: Sequence[Found], tones: Sequence[Tone]) -> tuple[Tone, ...]:
    """``tones`` with what another player spoils in each hidden, or the whole tone unreadable."""
    frames = _without_hum(frames, found)
    return tuple(_told(tone, _beside_db(frames, one)) for one, tone in zip(found, tones, strict=True))


def names(tones: Sequence[Tone]) -> tuple[int, ...]:
    """Numbers of the tones in which another player was heard."""
    return tuple(tone.index for tone in tones if CODE in (*tone.reasons, *tone.hidden.values()))


def between(frames: Frames, found: Sequence[Found]) -> bool:
    """Whether two pitches sound at once where no tone was found."""
    frames = _without_hum(frames, found)
    looks = _looks(frames)
    outside = np.ones(len(looks), dtype=bool)
    for tone in found:
        outside &= (looks * frames.hop_s < tone.span.start_s) | (looks * frames.hop_s > tone.span.end_s + AFTER_TONE_S)
    loud = float(np.percentile(frames.plain_power, LOUD_PERCENTILE)) if len(frames.plain_power) else 0.0
    outside &= frames.other_power > max(10.0 ** (FAINTEST_DB / 10.0) * loud, DIGITAL_SILENCE)
    number = np.flatnonzero(outside & _loud_enough(frames, looks))
    return any(len(run) >= LEAST_LOOKS_BETWEEN for run in _runs(number))


def _without_hum(frames: Frames, found: Sequence[Found]) -> Frames:
    """The mains play nothing, though their partials are a series too: the same one beside tone after tone."""
    second, mains = frames.other_hz > 0.0, is_mains(frames.other_hz, MAINS_CENTS)
    times_s = _looks(frames)[mains] * frames.hop_s
    beside = sum(bool(((times_s >= one.span.start_s) & (times_s <= one.span.end_s)).any()) for one in found)
    often = np.count_nonzero(mains) >= MAINS_SHARE * np.count_nonzero(second)
    if not hums(frames) and not (beside >= LEAST_BESIDE and often):
        return frames
    mains = is_mains(frames.other_hz, BESIDE_MAINS_CENTS)
    return replace(frames, other_hz=np.where(mains, np.float32(0.0), frames.other_hz))


def _told(tone: Tone, beside_db: float | None) -> Tone:
    if beside_db is None:
        return tone
    hidden = {**tone.hidden, **dict.fromkeys(SPOILT, CODE)}
    if beside_db < SPOILS_ALL_DB:
        return replace(tone, hidden=hidden)
    return replace(tone, hidden=hidden, readable=False, reasons=(*tone.reasons, CODE))


def _beside_db(frames: Frames, tone: Found) -> float | None:
    """Level of the other player to the tone; None: nobody else."""
    looks = _looks(frames)
    times_s = looks * frames.hop_s
    steady = (times_s >= tone.span.steady_start_s) & (times_s <= tone.span.steady_end_s)
    number = np.flatnonzero(steady & _loud_enough(frames, looks))
    midi = midi_of_hz(np.maximum(frames.other_hz, 1.0))
    for run in _runs(number):
        moves = np.flatnonzero(np.abs(np.diff(midi[run])) > SAME_SEMITONES)
        for held in np.split(run, moves + 1):
            if len(held) >= LEAST_LOOKS and not _dies_away(frames, held):
                return median(decibels(frames.other_power[held]) - decibels(frames.tonal_power[looks[held]]))
    return None


def _looks(frames: Frames) -> Places:
    """Which frame each look was taken at."""
    return FIRST_FRAME + EVERY_FRAMES * np.arange(len(frames.other_hz))


def _loud_enough(frames: Frames, looks: Places) -> Flags:
    faintest = 10.0 ** (FAINTEST_DB / 10.0) * frames.tonal_power[looks]
    loud: Flags = (frames.other_hz > 0.0) & (frames.other_power > faintest)
    return loud


def _runs(number: Places) -> list[Places]:
    """Rising numbers, parted where more than one is left out."""
    return np.split(number, np.flatnonzero(np.diff(number) > 2) + 1)


def _dies_away(frames: Frames, held: Places) -> bool:
    levels_db, half = decibels(frames.other_power[held]), len(held) // 2
    apart_s = (held[half:].mean() - held[:half].mean()) * EVERY_FRAMES * frames.hop_s
    return bool(levels_db[:half].mean() - levels_db[half:].mean() > TAIL_DB_PER_S * apart_s)
