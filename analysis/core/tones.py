"""From frames to tones: where each one sounds, and nothing else that does.

Voiced stretches are cut at slurs and new tongue strokes, joined again where a hole was only the room; then what is no
tone goes: the tail that a room adds, breath, speech, clicks, the crack that belongs to the tone after it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.bounds import span_of
from analysis.core.level import envelope_db
from analysis.core.slurs import slur_cuts, tongue_cuts
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels
from analysis.core.voicing import floor_power, runs, semitones, voiced

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Frames, Span

SAME_NOTE_SEMITONES = 0.5
BRIDGED_S = 0.12
TAIL_GAP_S, TAIL_UNDER_DB, TAIL_REACH_S, OWN_RISE_DB = 0.08, 9.0, 0.5, 6.0
LEAST_HNR_DB, LEAST_PROMINENCE_DB = 5.0, 16.0
LEAST_S, CRACK_S, CRACK_SHARE, CRACK_SEMITONES = 0.12, 0.3, 0.25, 4.5


@dataclass(frozen=True, slots=True)
class Found:
    """One tone in a take. ``f0_hz``: median over its steady part."""

    span: Span
    f0_hz: float


@dataclass(frozen=True, slots=True)
class Piece:
    """Frames [first, end) that may be a tone. ``touches``: it begins where the one before it ends."""

    first: int
    end: int
    touches: bool = False


@dataclass(frozen=True, slots=True)
class Take:
    """What every step looks at."""

    frames: Frames
    midi: Doubles  # (frames,)
    level_db: Doubles  # envelope, 5 ms blocks
    floor_power: float

    def pitch(self, piece: Piece) -> float:
        """Its MIDI number, read from its middle."""
        quarter = (piece.end - piece.first) // 4
        return float(np.median(self.midi[piece.first + quarter : piece.end - quarter]))

    def seconds(self, piece: Piece) -> float:
        return (piece.end - piece.first) * self.frames.hop_s

    def levels(self, piece: Piece) -> Doubles:
        per_frame = round(self.frames.hop_s / self.frames.block_s)
        return self.level_db[piece.first * per_frame : piece.end * per_frame]

    def level(self, piece: Piece) -> float:
        levels = self.levels(piece)
        return float(np.median(levels)) if len(levels) else float("-inf")


def find(frames: Frames) -> tuple[Found, ...]:
    """Every tone of a take, in order."""
    take = Take(frames, semitones(frames), envelope_db(frames), floor_power(frames))
    pieces = [Piece(first, end) for first, end in runs(voiced(frames, take.floor_power))]
    pieces = [part for piece in pieces for part in _cut(take, piece, slur_cuts(take.midi, piece.first, piece.end))]
    pieces = _joined(take, pieces)
    pieces = [
        part for piece in pieces for part in _cut(take, piece, tongue_cuts(frames, take.midi, piece.first, piece.end))
    ]
    pieces = _without_scraps(take, pieces)
    pieces = _without_tails(take, pieces)
    pieces = [piece for piece in pieces if _is_tone(take, piece)]
    return tuple(_found(take, pieces, number) for number in range(len(pieces)))


def _cut(take: Take, piece: Piece, cuts: list[int]) -> list[Piece]:
    edges = [piece.first, *cuts, piece.end]
    parts = [Piece(first, end, True) for first, end in pairwise(edges)]
    return [replace(parts[0], touches=piece.touches), *parts[1:]]


def _joined(take: Take, pieces: list[Piece]) -> list[Piece]:
    """Neighbours on one note that touch are one tone; so are those with a short hole that no tongue stroke made."""
    joined: list[Piece] = []
    for piece in pieces:
        if joined and abs(take.pitch(piece) - take.pitch(joined[-1])) < SAME_NOTE_SEMITONES:
            whole = Piece(joined[-1].first, piece.end, joined[-1].touches)
            hole_s = (piece.first - joined[-1].end) * take.frames.hop_s
            stroke = tongue_cuts(take.frames, take.midi, whole.first, whole.end)
            if piece.touches or (
                hole_s <= BRIDGED_S and not any(joined[-1].end <= cut <= piece.first for cut in stroke)
            ):
                joined[-1] = whole
                continue
        joined.append(piece)
    return joined


def _without_scraps(take: Take, pieces: list[Piece]) -> list[Piece]:
    """Short pieces at the start of a tone, also on another note (a crack), belong to it; alone they are nothing."""
    kept: list[Piece] = []
    following: Piece | None = None
    for piece in reversed(pieces):
        adjoins = following is not None and following.touches and following.first == piece.end
        if following is not None and adjoins and _is_scrap(take, piece, following):
            following = replace(following, first=piece.first, touches=piece.touches)
            kept[-1] = following
        elif take.seconds(piece) >= LEAST_S:
            following = piece
            kept.append(piece)
        else:
            following = None
    return kept[::-1]


def _is_scrap(take: Take, piece: Piece, following: Piece) -> bool:
    if take.seconds(piece) < LEAST_S:
        return True
    far = abs(take.pitch(piece) - take.pitch(following)) >= CRACK_SEMITONES
    short = take.seconds(piece) < min(CRACK_S, CRACK_SHARE * take.seconds(following))
    return far and short and not piece.touches


def _without_tails(take: Take, pieces: list[Piece]) -> list[Piece]:
    """A room goes on sounding when the horn has stopped: what only falls away under the tone before is no tone."""
    kept: list[Piece] = []
    for piece in pieces:
        if not (kept and _is_tail(take, kept[-1], piece)):
            kept.append(piece)
    return kept


def _is_tail(take: Take, tone: Piece, piece: Piece) -> bool:
    gap_s = (piece.first - tone.end) * take.frames.hop_s
    under_db = take.level(tone) - take.level(piece)
    levels = take.levels(piece)
    if under_db < TAIL_UNDER_DB or gap_s > TAIL_REACH_S or len(levels) == 0:
        return False
    half = len(levels) // 2
    falls = float(np.median(levels[half:])) < float(np.median(levels[: half + 1]))
    rises = float(levels.max() - levels[: max(1, int(levels.argmax()) + 1)].min()) >= OWN_RISE_DB
    return (gap_s <= TAIL_GAP_S and falls) or not rises


def _is_tone(take: Take, piece: Piece) -> bool:
    """Not breath, wind or noise: they are weakly tonal at most."""
    part = slice(piece.first, piece.end)
    tonal, noise = take.frames.tonal_power[part], take.frames.noise_power[part]
    hnr_db = float(np.median(decibels(tonal) - decibels(noise)))
    prominence_db = float(np.median(take.frames.prominence_db[part]))
    return hnr_db >= LEAST_HNR_DB and prominence_db >= LEAST_PROMINENCE_DB


def _found(take: Take, pieces: list[Piece], number: int) -> Found:
    hop_s, piece = take.frames.hop_s, pieces[number]
    before = pieces[number - 1] if number else None
    after = pieces[number + 1] if number + 1 < len(pieces) else None
    span = span_of(
        take.frames,
        take.level_db,
        piece.first * hop_s,
        piece.end * hop_s,
        before_s=before.end * hop_s if before else 0.0,
        after_s=after.first * hop_s if after else take.frames.duration_s,
        slurred_in=piece.touches and before is not None and before.end == piece.first,
        slurred_out=after is not None and after.touches and after.first == piece.end,
        floor_db=decibels(take.floor_power),
    )
    steady = frames_between(take.frames, span.steady_start_s, span.steady_end_s)
    return Found(span, float(np.median(take.frames.f0_hz[steady])))
