"""What sounds and is no tone: the tail that a room adds, breath and wind, talk."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.core.units import decibels, median, reach

if TYPE_CHECKING:
    from analysis.core.pieces import Piece, Take
    from analysis.core.records import Doubles

TAIL_GAP_S, TAIL_UNDER_DB, TAIL_REACH_S, OWN_RISE_DB = 0.08, 9.0, 0.5, 6.0
TAIL_DB_PER_S = 15.0  # a hall of four seconds; no player fades so fast over a whole tone
LEAST_HNR_DB, LEAST_PROMINENCE_DB = 5.0, 16.0
HELD_S, HELD_REACH_SEMITONES, HELD_HNR_DB, HELD_SPREAD_CENTS = 0.6, 0.25, -3.0, 6.0
# Talk, from synthetic voices: shorter than so many seconds and sliding more than so many semitones.
TALK, TALK_SCRAP_S, TALK_NEAR_S = ((0.5, 0.3), (1.0, 0.7), (1.3, 1.0)), 0.3, 1.0


def without_tails(take: Take, pieces: list[Piece]) -> list[Piece]:
    """A room goes on sounding when the horn has stopped: what only falls away under the tone before is no tone."""
    kept: list[Piece] = []
    tail: Piece | None = None
    for piece in pieces:
        if tail is not None and piece.touches and piece.first == tail.end:
            piece = replace(piece, first=tail.first)  # slurred: the new tone began under the tail of the old one
        tail = piece if kept and _is_tail(take, kept[-1], piece) else None
        if tail is None:
            kept.append(piece)
    return kept


def _is_tail(take: Take, tone: Piece, piece: Piece) -> bool:
    gap_s = (piece.first - tone.end) * take.frames.hop_s
    levels = take.levels(piece)
    if take.level(tone) - take.level(piece) < TAIL_UNDER_DB or gap_s > TAIL_REACH_S or len(levels) == 0:
        return False
    falls = _falls_db_per_s(levels, take.frames.block_s) > TAIL_DB_PER_S
    rise_db = float(levels.max() - levels[: int(levels.argmax()) + 1].min())
    return (gap_s <= TAIL_GAP_S and falls) or (gap_s > 0.0 and rise_db < OWN_RISE_DB)


def _falls_db_per_s(levels: Doubles, block_s: float) -> float:
    """From its first to its second third: later it may have a tail of its own."""
    third = max(1, len(levels) // 3)
    return (median(levels[:third]) - median(levels[third : 2 * third + 1])) / (third * block_s)


def is_tone(take: Take, piece: Piece) -> bool:
    """Not breath, wind or noise: they are weakly tonal at most.

    A very airy tone is so too, but it is held and its partials agree: no breath keeps its pitch that long.
    """
    part = slice(piece.first, piece.end)
    tonal, noise = take.frames.tonal_power[part], take.frames.noise_power[part]
    hnr_db = median(decibels(tonal) - decibels(noise))
    prominence_db = median(take.frames.prominence_db[part])
    if hnr_db >= LEAST_HNR_DB and prominence_db >= LEAST_PROMINENCE_DB:
        return True
    still = reach(take.midi[part]) < HELD_REACH_SEMITONES
    agrees = median(take.frames.spread_cents[part]) < HELD_SPREAD_CENTS
    return still and agrees and hnr_db >= HELD_HNR_DB and take.seconds(piece) >= HELD_S


def without_talk(take: Take, pieces: list[Piece]) -> list[Piece]:
    """A voice slides all the time; what is short and slides is talk, and so are the short scraps of pitch beside it."""
    talk = [_slides_too_far(take, piece) for piece in pieces]
    near = round(TALK_NEAR_S / take.frames.hop_s)
    voices = [piece for piece, is_talk in zip(pieces, talk, strict=True) if is_talk]
    return [
        piece
        for piece, is_talk in zip(pieces, talk, strict=True)
        if not is_talk
        and not (
            take.seconds(piece) < TALK_SCRAP_S
            and any(voice.first - near < piece.end and piece.first < voice.end + near for voice in voices)
        )
    ]


def _slides_too_far(take: Take, piece: Piece) -> bool:
    seconds, edge = take.seconds(piece), (piece.end - piece.first) // 10
    slid = reach(take.midi[piece.first + edge : piece.end - edge])
    return any(seconds < shorter_s and slid > semitones for shorter_s, semitones in TALK)
