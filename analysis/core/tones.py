"""From frames to tones: where each one sounds, and nothing else that does.

Voiced stretches are cut at slurs and new tongue strokes, joined again where a hole was only the room; then what is no
tone goes: the tail that a room adds, breath, speech, clicks, the crack that belongs to the tone after it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.core.bounds import span_of
from analysis.core.level import envelope_db
from analysis.core.lines import through
from analysis.core.slurs import slur_cuts, tongue_cuts
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels, median
from analysis.core.voicing import floor_power, runs, semitones, voiced

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Frames, Span

SAME_NOTE_SEMITONES = 0.5
BRIDGED_S = 0.12
TAIL_GAP_S, TAIL_UNDER_DB, TAIL_REACH_S, OWN_RISE_DB = 0.08, 9.0, 0.5, 6.0
TAIL_DB_PER_S = 15.0  # a hall of four seconds; no player fades so fast over a whole tone
LEAST_HNR_DB, LEAST_PROMINENCE_DB = 5.0, 16.0
LEAST_S, CRACK_S, EDGE_SHARE, CRACK_SEMITONES = 0.12, 0.4, 0.25, 4.5
SPEAKING_S = 0.2  # what sounds so briefly before a tone is that tone speaking
SLIDE_S, SLIDE_SHARE = 0.4, 0.4  # how long a slide may take, and how much of its way lies within the piece
HELD_S, HELD_REACH_SEMITONES, HELD_HNR_DB = 0.6, 0.25, 0.0


@dataclass(frozen=True, slots=True)
class Found:
    """One tone in a take. ``f0_hz``: median over its steady part."""

    span: Span
    f0_hz: float


@dataclass(frozen=True, slots=True)
class Piece:
    """Frames [first, end) that may be a tone. ``touches``: the one before it slurs into it."""

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
        return median(self.midi[piece.first + quarter : piece.end - quarter])

    def seconds(self, piece: Piece) -> float:
        return (piece.end - piece.first) * self.frames.hop_s

    def levels(self, piece: Piece) -> Doubles:
        per_frame = round(self.frames.hop_s / self.frames.block_s)
        return self.level_db[piece.first * per_frame : piece.end * per_frame]

    def level(self, piece: Piece) -> float:
        levels = self.levels(piece)
        return median(levels) if len(levels) else float("-inf")


def find(frames: Frames) -> tuple[Found, ...]:
    """Every tone of a take, in order."""
    take = Take(frames, semitones(frames), envelope_db(frames), floor_power(frames))
    pieces = [Piece(first, end) for first, end in runs(voiced(frames, take.floor_power))]
    pieces = [part for piece in pieces for part in _cut(piece, slur_cuts(take.midi, piece.first, piece.end), True)]
    pieces = _joined(take, pieces)
    pieces = [
        part for piece in pieces for part in _cut(piece, tongue_cuts(frames, take.midi, piece.first, piece.end), False)
    ]
    pieces = _without_scraps(take, pieces)
    pieces = _without_tails(take, pieces)
    pieces = [piece for piece in pieces if _is_tone(take, piece)]
    return tuple(_found(take, pieces, number) for number in range(len(pieces)))


def _cut(piece: Piece, cuts: list[int], touching: bool) -> list[Piece]:
    edges = [piece.first, *cuts, piece.end]
    parts = [Piece(first, end, touching) for first, end in pairwise(edges)]
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
    """Short pieces at the edges of a breath, a crack or a pitch that slides, belong to the tone beside them.

    Others that are too short for a tone go to the next one, or are nothing if they stand alone.
    """
    kept: list[Piece] = []
    for breath in _breaths(pieces):
        while len(breath) > 1 and _leads_in(take, breath):
            breath[:2] = [replace(breath[1], first=breath[0].first, touches=breath[0].touches)]
        while len(breath) > 1 and _slides(take, breath[-1], breath[-2]):
            breath[-2:] = [replace(breath[-2], end=breath[-1].end)]
        for number in range(len(breath) - 1, 0, -1):
            if take.seconds(breath[number - 1]) < LEAST_S:
                before = breath.pop(number - 1)
                breath[number - 1] = replace(breath[number - 1], first=before.first, touches=before.touches)
        kept += [piece for piece in breath if take.seconds(piece) >= LEAST_S]
    return kept


def _breaths(pieces: list[Piece]) -> list[list[Piece]]:
    """Pieces that touch, together."""
    breaths: list[list[Piece]] = []
    for piece in pieces:
        if piece.touches and breaths and breaths[-1][-1].end == piece.first:
            breaths[-1].append(piece)
        else:
            breaths.append([piece])
    return breaths


def _leads_in(take: Take, breath: list[Piece]) -> bool:
    """The first piece is no tone but the way into the next: too short for one, a crack, or a slide."""
    piece, following = breath[0], breath[1]
    if take.seconds(piece) < LEAST_S:
        return True
    main_s = max(take.seconds(one) for one in breath[1:3])
    if take.seconds(piece) < min(SPEAKING_S, EDGE_SHARE * main_s):
        return True
    far = abs(take.pitch(piece) - take.pitch(following)) >= CRACK_SEMITONES
    return (far and take.seconds(piece) <= min(CRACK_S, EDGE_SHARE * main_s)) or _slides(take, piece, following)


def _slides(take: Take, piece: Piece, beside: Piece) -> bool:
    """A short piece that never settles while its pitch moves towards (or away from) that of its neighbour."""
    if take.seconds(piece) >= min(SLIDE_S, EDGE_SHARE * take.seconds(beside)):
        return False
    pitch = take.midi[piece.first : piece.end]
    step = abs(median(pitch) - take.pitch(beside))
    return step < CRACK_SEMITONES and float(np.subtract(*np.percentile(pitch, (90, 10)))) >= SLIDE_SHARE * step


def _without_tails(take: Take, pieces: list[Piece]) -> list[Piece]:
    """A room goes on sounding when the horn has stopped: what only falls away under the tone before is no tone."""
    kept: list[Piece] = []
    for piece in pieces:
        if not (kept and _is_tail(take, kept[-1], piece)):
            kept.append(piece)
    return kept


def _is_tail(take: Take, tone: Piece, piece: Piece) -> bool:
    gap_s = (piece.first - tone.end) * take.frames.hop_s
    levels = take.levels(piece)
    if take.level(tone) - take.level(piece) < TAIL_UNDER_DB or gap_s > TAIL_REACH_S or len(levels) == 0:
        return False
    times_s = np.arange(len(levels), dtype=np.float64) * take.frames.block_s
    falls = -through(times_s, levels).slope > TAIL_DB_PER_S
    rise_db = float(levels.max() - levels[: int(levels.argmax()) + 1].min())
    return (gap_s <= TAIL_GAP_S and falls) or (gap_s > 0.0 and rise_db < OWN_RISE_DB)


def _is_tone(take: Take, piece: Piece) -> bool:
    """Not breath, wind or noise: they are weakly tonal at most.

    A very airy tone is so too, but it is held: no breath keeps its pitch that long.
    """
    part = slice(piece.first, piece.end)
    tonal, noise = take.frames.tonal_power[part], take.frames.noise_power[part]
    hnr_db = median(decibels(tonal) - decibels(noise))
    prominence_db = median(take.frames.prominence_db[part])
    if hnr_db >= LEAST_HNR_DB and prominence_db >= LEAST_PROMINENCE_DB:
        return True
    still = float(np.subtract(*np.percentile(take.midi[part], (90, 10)))) < HELD_REACH_SEMITONES
    return still and hnr_db >= HELD_HNR_DB and take.seconds(piece) >= HELD_S


def rejoined(frames: Frames, found: Sequence[Found], broken: Collection[int]) -> tuple[Found, ...]:
    """``found`` with every tone whose number is in ``broken`` made one with the tone after it."""
    whole: list[Found] = []
    for number, tone in enumerate(found):
        if number and number - 1 in broken:
            first = whole.pop().span
            span = replace(
                first, end_s=tone.span.end_s, steady_end_s=tone.span.steady_end_s, slurred_out=tone.span.slurred_out
            )
            whole.append(Found(span, _steady_hz(frames, span)))
        else:
            whole.append(tone)
    return tuple(whole)


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
    return Found(span, _steady_hz(take.frames, span))


def _steady_hz(frames: Frames, span: Span) -> float:
    return median(frames.f0_hz[frames_between(frames, span.steady_start_s, span.steady_end_s)])
