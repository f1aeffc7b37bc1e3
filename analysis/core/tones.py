"""From frames to tones: where each one sounds, and nothing else that does.

Voiced stretches are cut at slurs and new tongue strokes, joined again where a hole was only the room; then what is no
tone goes: the tail that a room adds, breath, speech, clicks, the crack that belongs to the tone after it.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from analysis.core.bounds import span_of
from analysis.core.level import envelope_db
from analysis.core.not_tones import is_tone, without_tails, without_talk
from analysis.core.pieces import Piece, Take, cut, joined, without_scraps
from analysis.core.slurs import slur_cuts, tongue_cuts
from analysis.core.spectrum import frames_between
from analysis.core.units import decibels, median
from analysis.core.voicing import floor_power, runs, semitones, voiced

if TYPE_CHECKING:
    from analysis.core.records import Frames, Span


@dataclass(frozen=True, slots=True)
class Found:
    """One tone in a take. ``f0_hz``: median over its steady part."""

    span: Span
    f0_hz: float


def find(frames: Frames) -> tuple[Found, ...]:
    """Every tone of a take, in order."""
    take = Take(frames, semitones(frames), envelope_db(frames), floor_power(frames))
    pieces = [Piece(first, end) for first, end in runs(voiced(frames, take.midi, take.floor_power))]
    pieces = [
        part for piece in pieces for part in cut(piece, slur_cuts(frames, take.midi, piece.first, piece.end), True)
    ]
    pieces = joined(take, pieces)
    pieces = [
        part for piece in pieces for part in cut(piece, tongue_cuts(frames, take.midi, piece.first, piece.end), False)
    ]
    pieces = without_scraps(take, pieces)
    pieces = without_tails(take, pieces)
    pieces = without_talk(take, [piece for piece in pieces if is_tone(take, piece)])
    return tuple(_found(take, pieces, number) for number in range(len(pieces)))


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
