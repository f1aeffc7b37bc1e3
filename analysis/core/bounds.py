"""Where a tone starts and stops, and which part of it is steady.

The start is where it rises out of the noise just before it; the stop is 6 dB under its last own level, because a room
adds a tail of its own: 20 dB would let the tail in, less than 6 would cut a swell short.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.core.lines import through
from analysis.core.records import Span
from analysis.core.units import median, percentiles, power_of

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Frames

OWN_LEVEL_S = (0.1, 0.4)  # into the tone
NEAR_DB, START_UNDER_DB, OVER_NOISE_DB = 6.0, 20.0, 5.0
NOISE_S, LEAST_NOISE_S, NOISE_PERCENTILE = 0.3, 0.05, 20
JUST_BEFORE_S = (0.08, 0.03)  # the first voiced frame, whose window already looks into the tone
BODY_BEFORE_END_S, LEAST_OVER_NOISE_DB = 0.5, 10.0  # a gap that is louder holds no noise but the next tone
STOP_UNDER_DB, FALLEN_DB, FALLEN_REACH_S = 6.0, 20.0, 0.8
LAST_LEVEL_S, LAST_LEVEL_BEFORE_S = 0.18, 0.18
ROOM_FALL_DB_PER_S, EARLIER_S = 30.0, 0.06
LEAST_TAIL_S, MOST_TAIL_S = 0.06, 1.0
AGREEING_FRAMES, SEARCHED_FRAMES = (90, 36), 36
LEAST_AGREEING = 15
APART, LEAST_APART_CENTS, WINDOW_SEES_AHEAD_S = 3.0, 2.0, 0.03
BODY_S = (0.2, 0.6)
SPOKEN_DB, AFTER_SPEAKING_S, LEAST_WAIT_S, MOST_WAIT_S, MOST_WAIT_SHARE = 3.0, 0.04, 0.1, 0.4, 0.3
BEFORE_STOP_S, BESIDE_SLUR_S = 0.08, 0.06


def span_of(
    frames: Frames,
    level_db: Doubles,
    voiced_from_s: float,
    voiced_to_s: float,
    *,
    before_s: float,
    after_s: float,
    slurred_in: bool,
    slurred_out: bool,
    floor_db: float,
) -> Span:
    """The span of a tone that is voiced between two times.

    ``before_s``, ``after_s``: where its neighbours end and start; ``floor_db``: the room;
    ``level_db``: ``level.envelope_db`` of the take.
    """
    walk = _Walk(level_db, frames.block_s, floor_db)
    noise_db = walk.noise(max(before_s, voiced_from_s - NOISE_S), voiced_from_s)
    if voiced_from_s - JUST_BEFORE_S[0] > before_s:  # breath that runs into the tone is no part of it
        noise_db = max(noise_db, walk.usual(voiced_from_s - JUST_BEFORE_S[0], voiced_from_s - JUST_BEFORE_S[1]))
    start_s = voiced_from_s if slurred_in else walk.start(voiced_from_s, voiced_to_s, before_s, noise_db)
    end_s = voiced_to_s if slurred_out else walk.stop(start_s, voiced_to_s, after_s)
    if not slurred_out and walk.fades(end_s):
        end_s = min(end_s, _room_takes_over(frames, start_s, end_s))
    first_s, last_s = _steady(walk, start_s, end_s, slurred_in, slurred_out)
    floor_power = power_of(noise_db)
    return Span(start_s, end_s, first_s, last_s, slurred_in, slurred_out, floor_power)


class _Walk:
    """Looks along the envelope. Block i lies between ``i * block_s`` and ``(i + 1) * block_s``."""

    def __init__(self, level_db: Doubles, block_s: float, floor_db: float) -> None:
        self.level_db, self.block_s, self.floor_db = level_db, block_s, floor_db

    def block(self, at_s: float) -> int:
        return min(max(0, round(at_s / self.block_s)), len(self.level_db))

    def part(self, from_s: float, to_s: float) -> Doubles:
        """At least one block, if there is any."""
        first = min(self.block(from_s), max(0, len(self.level_db) - 1))
        return self.level_db[first : max(first + 1, self.block(to_s))]

    def noise(self, from_s: float, to_s: float) -> float:
        """Of a gap; where there is none to speak of, the room's."""
        if to_s - from_s < LEAST_NOISE_S:
            return self.floor_db
        return percentiles(self.part(from_s, to_s), NOISE_PERCENTILE)[0]

    def usual(self, from_s: float, to_s: float) -> float:
        return median(self.part(from_s, to_s))

    def start(self, from_s: float, to_s: float, earliest_s: float, noise_db: float) -> float:
        own_from_s = min(from_s + OWN_LEVEL_S[0], 0.5 * (from_s + to_s))
        own_db = median(self.part(own_from_s, min(from_s + OWN_LEVEL_S[1], to_s)))
        ahead = self.part(from_s, to_s)
        near = self.block(from_s) + int((ahead >= own_db - NEAR_DB).argmax())
        limit_db = max(own_db - START_UNDER_DB, noise_db + OVER_NOISE_DB)
        behind = self.level_db[self.block(earliest_s) : near + 1][::-1]
        under = np.flatnonzero(behind < limit_db)
        return (near + 1 - int(under[0]) if len(under) else self.block(earliest_s)) * self.block_s

    def stop(self, start_s: float, voiced_to_s: float, latest_s: float) -> float:
        latest_s = min(latest_s, voiced_to_s + NOISE_S)
        body_db = median(self.part(max(start_s, voiced_to_s - BODY_BEFORE_END_S), voiced_to_s))
        noise_db = max(self.floor_db, min(self.noise(voiced_to_s, latest_s), body_db - LEAST_OVER_NOISE_DB))
        audible = self.part(start_s, latest_s)
        over = np.flatnonzero(audible > noise_db + OVER_NOISE_DB)
        audible_to_s = start_s + (int(over[-1]) + 1 if len(over) else len(audible)) * self.block_s
        last_db, from_s = self._last_level(start_s, audible_to_s, noise_db)
        ahead = self.part(from_s, audible_to_s)
        loud = np.flatnonzero(ahead > last_db - STOP_UNDER_DB)
        return (self.block(from_s) + int(loud[-1]) + 1 if len(loud) else self.block(audible_to_s)) * self.block_s

    def fades(self, end_s: float) -> bool:
        """It takes the room's time, not the horn's, to fall from 6 to 20 dB under the tone."""
        after = self.part(end_s, end_s + MOST_TAIL_S)
        level_db = after[0] - (FALLEN_DB - STOP_UNDER_DB)
        fallen = np.flatnonzero(after < level_db)
        return len(fallen) == 0 or int(fallen[0]) * self.block_s >= LEAST_TAIL_S

    def _last_level(self, start_s: float, audible_to_s: float, noise_db: float) -> tuple[float, float]:
        """(level before the stop, where that was read): from a stretch that is not yet the room dying away."""
        near_s = max(start_s, audible_to_s - FALLEN_REACH_S)
        near = self.part(near_s, audible_to_s)
        last_loud = int(np.flatnonzero(near > near.max() - NEAR_DB)[-1])
        fallen = near[last_loud:] < max(near.max() - FALLEN_DB, noise_db + OVER_NOISE_DB)
        fallen_s = near_s + (last_loud + (int(fallen.argmax()) if fallen.any() else len(fallen))) * self.block_s
        latest_s = max(start_s, fallen_s - LAST_LEVEL_BEFORE_S - LAST_LEVEL_S)
        earliest_s = start_s + 0.5 * (latest_s - start_s)
        from_s = latest_s
        while from_s > earliest_s and self._fall(from_s) > ROOM_FALL_DB_PER_S:
            from_s -= EARLIER_S
        if from_s < earliest_s:  # it falls all along: no room, or one that cannot be told from the horn
            from_s = latest_s
        return median(self.part(from_s, min(from_s + LAST_LEVEL_S, audible_to_s))), from_s

    def _fall(self, from_s: float) -> float:
        """dB a second."""
        levels = self.part(from_s, from_s + LAST_LEVEL_S)
        if len(levels) < 3:
            return 0.0
        return -through(np.arange(0.0, len(levels)) * self.block_s, levels).slope


def _room_takes_over(frames: Frames, start_s: float, end_s: float) -> float:
    """Where the horn stops in a room that goes on sounding: there its partials, so far one, begin to disagree.

    Where no such moment is found, ``end_s``.
    """
    end = round(end_s / frames.hop_s)
    before = frames.spread_cents[
        max(round(start_s / frames.hop_s), end - AGREEING_FRAMES[0]) : end - AGREEING_FRAMES[1]
    ]
    if len(before) < LEAST_AGREEING:
        return end_s
    apart = frames.spread_cents[end - SEARCHED_FRAMES : end] > max(
        LEAST_APART_CENTS, APART * percentiles(before, 90)[0]
    )
    for_long = apart[:-2] & apart[1:-1] & apart[2:]
    if not for_long.any():
        return end_s
    return (end - SEARCHED_FRAMES + int(for_long.argmax())) * frames.hop_s + WINDOW_SEES_AHEAD_S


def _steady(walk: _Walk, start_s: float, end_s: float, slurred_in: bool, slurred_out: bool) -> tuple[float, float]:
    """The stretch that a tone's numbers are read from: it has spoken, and it does not yet stop."""
    length_s = end_s - start_s
    if slurred_in:
        wait_s = BESIDE_SLUR_S
    else:
        body_from_s, body_to_s = (
            start_s + min(share_s, part * length_s) for share_s, part in zip(BODY_S, (0.3, 0.7), strict=True)
        )
        body_db = median(walk.part(body_from_s, body_to_s))
        spoken = walk.part(start_s, end_s) >= body_db - SPOKEN_DB
        wait_s = max(LEAST_WAIT_S, int(spoken.argmax()) * walk.block_s + AFTER_SPEAKING_S)
        wait_s = min(wait_s, MOST_WAIT_S, MOST_WAIT_SHARE * length_s)
    first_s = start_s + min(wait_s, 0.4 * length_s)
    last_s = end_s - min(BESIDE_SLUR_S if slurred_out else BEFORE_STOP_S, 0.3 * length_s)
    return first_s, max(last_s, first_s)
