"""What a player was asked for, written as text: ``Bb3,B3,C4``, ``Bb3..F#6``, ``overtones:Bb3:2,3,4``."""

from __future__ import annotations

from dataclasses import replace

from analysis.core.records import Asked
from analysis.core.tables import parse_note

MOST_TONES = 1_000
MOST_PARTIALS = 16


def parse_expected(text: str, each: Asked) -> tuple[Asked, ...]:
    """The tones asked for, in order; shape, dynamic and pulses are those of ``each``.

    Notes are separated by commas; ``A..B`` is every semitone from A to B, upwards or downwards. ``ValueError`` says
    what cannot be read, in words.
    """
    if text.strip().lower().startswith("overtones:"):
        return _overtones(text.strip()[len("overtones:") :], each)
    asked = [replace(each, written_midi=midi) for item in text.split(",") for midi in _notes(item)]
    if len(asked) > MOST_TONES:
        raise ValueError(f"That is {len(asked)} notes. Ask for {MOST_TONES} at most.")
    return tuple(asked)


def _notes(item: str) -> list[int]:
    ends = item.split("..")
    if len(ends) > 2:
        raise ValueError(f"“{item.strip()[:40]}” is not a range. Write one like Bb3..F#6.")
    first, last = parse_note(ends[0]), parse_note(ends[-1])
    step = 1 if last >= first else -1
    return list(range(first, last + step, step))


def _overtones(text: str, each: Asked) -> tuple[Asked, ...]:
    note, _, partials = text.partition(":")
    fingered = parse_note(note)
    numbers = [part.strip() for part in partials.split(",")]
    wrong = [n[:10] for n in numbers if not (n.isascii() and n.isdigit() and 1 <= int(n[:4]) <= MOST_PARTIALS)]
    if wrong:
        raise ValueError(
            f"“{wrong[0]}” is not a partial. Write whole numbers from 1 to {MOST_PARTIALS}, like overtones:Bb3:2,3,4."
        )
    return tuple(replace(each, written_midi=fingered, partial=int(number)) for number in numbers)
