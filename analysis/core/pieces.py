"""Pieces of a take that may be tones: cut at slurs and tongue strokes, and put together where they are one."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import pairwise
from typing import TYPE_CHECKING

from analysis.core.slurs import tongue_cuts
from analysis.core.units import median, reach

if TYPE_CHECKING:
    from analysis.core.records import Doubles, Frames

SAME_NOTE_SEMITONES = 0.5
BRIDGED_S, SLUR_DIP_DB = 0.12, 9.0
LEAST_S, CRACK_S, EDGE_SHARE, CRACK_SEMITONES = 0.12, 0.4, 0.25, 4.5
SPEAKING_S = 0.2  # what sounds so briefly before a tone is that tone speaking
SLIDE_S, SLIDE_SHARE = 0.4, 0.4  # how long a slide may take, and how much of its way lies within the piece


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


def cut(piece: Piece, cuts: list[int], touching: bool) -> list[Piece]:
    edges = [piece.first, *cuts, piece.end]
    parts = [Piece(first, end, touching) for first, end in pairwise(edges)]
    return [replace(parts[0], touches=piece.touches), *parts[1:]]


def joined(take: Take, pieces: list[Piece]) -> list[Piece]:
    """Neighbours on one note that touch are one tone; so are those with a short hole that no tongue stroke made."""
    whole_pieces: list[Piece] = []
    for piece in pieces:
        if whole_pieces and abs(take.pitch(piece) - take.pitch(whole_pieces[-1])) < SAME_NOTE_SEMITONES:
            whole = Piece(whole_pieces[-1].first, piece.end, whole_pieces[-1].touches)
            hole_s = (piece.first - whole_pieces[-1].end) * take.frames.hop_s
            stroke = tongue_cuts(take.frames, take.midi, whole.first, whole.end)
            if piece.touches or (
                hole_s <= BRIDGED_S and not any(whole_pieces[-1].end <= cut <= piece.first for cut in stroke)
            ):
                whole_pieces[-1] = whole
                continue
        elif whole_pieces and _slurs_over(take, whole_pieces[-1], piece):
            middle = (whole_pieces[-1].end + piece.first) // 2
            whole_pieces[-1] = replace(whole_pieces[-1], end=middle)
            piece = replace(piece, first=middle, touches=True)
        whole_pieces.append(piece)
    return whole_pieces


def _slurs_over(take: Take, before: Piece, piece: Piece) -> bool:
    """No pitch was read for a moment between two notes, but the sound did not stop."""
    hole_s = (piece.first - before.end) * take.frames.hop_s
    if piece.touches or not 0.0 < hole_s <= BRIDGED_S:
        return False
    hole = take.levels(Piece(before.end, piece.first))
    return len(hole) > 0 and float(hole.min()) > min(take.level(before), take.level(piece)) - SLUR_DIP_DB


def without_scraps(take: Take, pieces: list[Piece]) -> list[Piece]:
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
    return step < CRACK_SEMITONES and reach(pitch) >= SLIDE_SHARE * step
