"""Where one breath holds several tones: slurs (the pitch steps), new tongue strokes on one pitch (the level dips)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.level import envelope_between
from analysis.core.units import median, percentiles, reach
from analysis.core.voicing import runs

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.core.records import Doubles, Floats, Frames

SIDE_FRAMES = 20  # the pitch of 0.2 s before is held against that of 0.2 s after
STEP_SEMITONES = 0.55
NEAREST_CUTS = 12  # frames
WAVE_FRAMES = 70  # a little over half a wave of 0.8 Hz
SCALE_SEMITONES, WAVE_SEMITONES, JUMP_SHARE = 0.9, 1.6, 0.65
SETTLED_FRAMES = 8
AGREE_FRAMES, APART, APART_CENTS, WINDOW_SEES_AHEAD = (60, 20), 3.0, 1.5, 3
DIP_DB, DIP_SIDE_S, LEAST_TONE_S = 7.0, 0.3, 0.4
BACK_S, RISEN_DB = 0.1, 3.0
OLD_TONE_S = 1.0  # so far before the stroke the old tone is looked for: what rings longer is a cathedral
ATTACK_BLOCKS, ATTACK_DB = 6, 4.5  # in 30 ms: the beating of an unsteady tone in a room is half as quick
SUDDEN_DB = 10.0  # no beating rises so fast; a room that then goes on filling up is no reason to doubt
WEAK_ATTACK_DB = 3.5  # in a room a stroke is softer …
LEEWAYS = ((SUDDEN_DB, 2.0), (ATTACK_DB, 1.0), (WEAK_ATTACK_DB, 0.6))  # … and then the pitch must lie the stiller
BEATING_S, BEATS = 0.6, 3  # dip after dip: a vibrato against its own reflections, however still its pitch then looks
STOPPED_DB = 6.0  # under its level the old tone is no longer played; what follows is the room
NEAR_FRAMES, BESIDE_FRAMES = 8, 27  # the new pitch needs 0.08 s to come; 0.27 s of each are looked at
STEADY_CENTS, SAME_PLACE_CENTS = 6.0, 8.0
# A tail: partials six times as far apart as just before, for 60 ms. Far off (room 0 to 5 dB over the horn, silent for
# 0.05 to 0.2 s) 164 of 216 strokes by formula are heard with it, 94 without; of 354 tones that only waver, wave or slur
# it cuts none. Found on half of the notes: there 91 of 108, on the other half 73.
SHALLOW_DB = 5.0
AGREED_FRAMES, LEAST_AGREED, TAIL_FRAMES = (70, 25), 15, (12, 8)
TAIL_APART, LEAST_TAIL_CENTS, TAIL_LASTS = 6.0, 1.0, 6


def slur_cuts(frames: Frames, semitones: Doubles, first: int, end: int) -> list[int]:
    """Frames in [first, end) at which a slur leads to another note.

    It is placed where the pitch is half way; in a room, where the old note sounds on for a while, where the partials
    of the old one begin to disagree.
    """
    pitch = semitones[first:end]
    if len(pitch) < 2 * SETTLED_FRAMES:
        return []
    before = np.full(SIDE_FRAMES, median(pitch[:SETTLED_FRAMES]))  # as if the first and last pitch had gone on
    after = np.full(SIDE_FRAMES, median(pitch[-SETTLED_FRAMES:]))
    medians = _window_medians(np.concatenate((before, pitch, after)))
    step = medians[SIDE_FRAMES:] - medians[:-SIDE_FRAMES]  # at frame k: median of k … k+19 less median of k-20 … k-1
    cuts = {at: _half_way(pitch, at, medians) for at in _peaks(np.abs(step))}
    waves = _waves(cuts, step, pitch)
    spread_cents = frames.spread_cents[first:end]
    kept = {_old_note_stops(spread_cents, cut) for at, cut in cuts.items() if at not in waves}
    return [first + cut for cut in sorted(kept) if 0 < cut < len(pitch)]


def _old_note_stops(spread_cents: Floats, cut: int) -> int:
    """``cut``, or earlier where the partials stop to agree; frames."""
    before = spread_cents[max(0, cut - AGREE_FRAMES[0]) : max(0, cut - AGREE_FRAMES[1])]
    if len(before) < AGREE_FRAMES[1]:
        return cut
    limit_cents = max(APART_CENTS, APART * percentiles(before, 90)[0])
    apart = spread_cents[cut - AGREE_FRAMES[1] : cut] > limit_cents
    for_long = apart[:-2] & apart[1:-1] & apart[2:]
    if not for_long.any():
        return cut
    return min(cut, cut - AGREE_FRAMES[1] + int(for_long.argmax()) + WINDOW_SEES_AHEAD)


def _window_medians(pitch: Doubles) -> Doubles:
    windows = np.lib.stride_tricks.sliding_window_view(pitch, SIDE_FRAMES)
    middle = SIDE_FRAMES // 2
    parts = np.partition(windows, (middle - 1, middle), axis=1)
    medians: Doubles = 0.5 * (parts[:, middle - 1] + parts[:, middle])
    return medians


def _peaks(step: Doubles) -> list[int]:
    """Where the step is over the limit and the largest within 0.12 s either side."""
    peaks: list[int] = []
    for first, end in runs(step > STEP_SEMITONES):
        left = list(range(first, end))
        while left:
            top = max(left, key=lambda at: step[at])
            if step[top] >= step[max(0, top - NEAREST_CUTS) : top + NEAREST_CUTS + 1].max():
                peaks.append(top)
            left = [at for at in left if abs(at - top) > NEAREST_CUTS]
    return sorted(peaks)


def _waves(cuts: Mapping[int, int], step: Doubles, pitch: Doubles) -> set[int]:
    """Peaks (of ``cuts``: peak -> where it would cut) that are a slow wide vibrato: up, down, up, soon and no slurs.

    A slur jumps; a wave is on its way all the time. Less than a semitone up and down again is never a scale.
    """
    waves: set[int] = set()
    for three in zip(cuts, list(cuts)[1:], list(cuts)[2:], strict=False):
        steps = step[list(three)]
        turns = bool(np.all(steps[1:] * steps[:-1] < 0.0)) and max(np.diff(three)) <= WAVE_FRAMES
        at = np.array([cuts[peak] for peak in three])
        jumps = np.abs(pitch[np.minimum(at + 3, len(pitch) - 1)] - pitch[np.maximum(at - 3, 0)])
        small, slow = max(np.abs(steps)) < SCALE_SEMITONES, bool(np.all(jumps < JUMP_SHARE * np.abs(steps)))
        if turns and (small or (slow and max(np.abs(steps)) < WAVE_SEMITONES)):
            waves |= set(three)
    return waves


def _half_way(pitch: Doubles, at: int, medians: Doubles) -> int:
    """The frame nearest to ``at`` at which the pitch crosses the middle between both sides."""
    half = 0.5 * (medians[at] + medians[at + SIDE_FRAMES])
    near = slice(max(0, at - SIDE_FRAMES), at + SIDE_FRAMES)
    above = pitch[near] > half
    crossings = np.flatnonzero(above[1:] != above[:-1]) + 1 + near.start
    return int(crossings[np.abs(crossings - at).argmin()]) if len(crossings) else at


def tongue_cuts(frames: Frames, semitones: Doubles, first: int, end: int) -> list[int]:
    """Frames in [first, end), one note, at which the tongue starts it anew: a dip that ends at once, on one pitch.

    A vibrato tone in a room beats against its own reflections and dips 10 to 30 dB, a drifting one beats slowly. So the
    dip must lie in a steady pitch and not among others, or its partials, so far one, must fall apart in it: then the
    horn was silent, and what sounded was the room.
    """
    times_s, level_db = envelope_between(frames, first * frames.hop_s, end * frames.hop_s)
    side, look, beating = (round(seconds / frames.block_s) for seconds in (DIP_SIDE_S, OLD_TONE_S, BEATING_S))
    if len(level_db) <= 2 * side:
        return []
    tops = np.lib.stride_tricks.sliding_window_view(np.pad(level_db, side, mode="edge"), side + 1).max(axis=1)
    after_db = tops[side : side + len(level_db)]
    depth_db = np.minimum(tops[: len(level_db)], after_db) - level_db
    deep = np.array([begin for begin, _ in runs(depth_db > DIP_DB)])
    cuts, last = [], first
    for begin, stop in runs(depth_db > SHALLOW_DB):
        deepest = begin + int(level_db[begin:stop].argmin())
        cut = round(float(times_s[deepest]) / frames.hop_s)
        attack_db = _attack_db(level_db, deepest, float(after_db[deepest]), frames.block_s)
        if attack_db < WEAK_ATTACK_DB or min(cut - last, end - cut) * frames.hop_s < LEAST_TONE_S:
            continue
        old_db = level_db[max(0, deepest - look) : deepest + 1]
        stopping = deepest - int((old_db[::-1] > old_db.max() - STOPPED_DB).argmax())
        stopped = round(float(times_s[stopping]) / frames.hop_s)
        moves, apart = _pitch_around(semitones, (first, stopped), (cut + NEAR_FRAMES, end))
        leeway = next(share for least_db, share in LEEWAYS if attack_db >= least_db)
        alone = depth_db[deepest] > DIP_DB and np.count_nonzero(np.abs(deep - begin) < beating) < BEATS
        still = moves < leeway * STEADY_CENTS and apart < leeway * SAME_PLACE_CENTS
        silent = (
            attack_db >= ATTACK_DB
            and apart < SAME_PLACE_CENTS
            and _fell_apart(frames.spread_cents[last:end], cut - last)
        )
        if (alone and still) or silent:
            cuts.append(cut)
            last = cut
    return cuts


def _attack_db(level_db: Doubles, deepest: int, after_db: float, block_s: float) -> float:
    """The steepest rise within 30 ms out of a dip; 0 if the level is not back soon after, unless the rise is sudden."""
    silent_to = deepest + int((level_db[deepest:] > level_db[deepest] + RISEN_DB).argmax())
    back = silent_to + round(BACK_S / block_s)
    attack = level_db[deepest : back + ATTACK_BLOCKS]
    risen_db = float((attack[ATTACK_BLOCKS:] - attack[:-ATTACK_BLOCKS]).max(initial=0.0))
    is_back = level_db[deepest:back].max() >= after_db - RISEN_DB
    return risen_db if is_back or risen_db >= SUDDEN_DB else 0.0


def _pitch_around(semitones: Doubles, old: tuple[int, int], new: tuple[int, int]) -> tuple[float, float]:
    """How far the pitch moves at the end of the old tone or the start of the new one, and from one to the other; cents.

    Infinite where either is too short to tell.
    """
    before = semitones[max(old[0], old[1] - BESIDE_FRAMES) : old[1]]
    after = semitones[new[0] : min(new[1], new[0] + BESIDE_FRAMES)]
    if min(len(before), len(after)) < SETTLED_FRAMES:
        return np.inf, np.inf
    return 100.0 * max(reach(before), reach(after)), 100.0 * abs(median(before) - median(after))


def _fell_apart(spread_cents: Floats, cut: int) -> bool:
    """Whether partials that agreed until then disagree about ``cut``, for longer than a beat lasts: a room alone."""
    before = spread_cents[max(0, cut - AGREED_FRAMES[0]) : max(0, cut - AGREED_FRAMES[1])]
    if len(before) < LEAST_AGREED:
        return False
    about = np.sort(spread_cents[cut - TAIL_FRAMES[0] : cut + TAIL_FRAMES[1]])
    usual_cents = max(LEAST_TAIL_CENTS, percentiles(before, 90)[0])
    return bool(about[-TAIL_LASTS] >= TAIL_APART * usual_cents)
