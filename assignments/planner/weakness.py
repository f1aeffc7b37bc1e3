"""How weak each tone looks: a draw from what its note, its word and itself have shown so far.

A draw, not a mean: a tone that was hardly tried yet may turn out weak, and so gets explored (Thompson sampling).
Exact on every machine: only ``random.Random.random()``, whose sequence Python guarantees, comparisons and IEEE sums are
used; no logarithm or power that two maths libraries might round differently.
"""

from __future__ import annotations

from datetime import date
from hashlib import sha256
from random import Random

from assignments.planner.history import History, Table

OWN_SHARE = 0.6  # a single tone is heard about once a month: its note and its word say more
Luck = tuple[float, float]


def random_of(seed: int, on: date) -> Random:
    """The day's own source of chance: seeded with the first 8 bytes of SHA-256 of ``"<on> <seed>"``, big-endian."""
    return Random(int.from_bytes(sha256(f"{on.isoformat()} {seed}".encode()).digest()[:8], "big"))


def beta(luck: Luck, chance: Random) -> float:
    """A draw from Beta(1 + hits, 1 + misses).

    For whole numbers that is the (1 + hits)th smallest of 1 + hits + misses uniform numbers (order statistics).
    Forgetting makes fractions of them: each is rounded up as often as it is large, which keeps its mean.
    """
    hits, misses = (int(part) + (chance.random() < part - int(part)) for part in luck)
    return sorted(chance.random() for _ in range(1 + hits + misses))[hits]


def weakness(table: Table, history: History, chance: Random) -> list[float]:
    """For each cell the sum of three draws of its chance to hit: the lowest is the weakest. Notes first, then tones."""
    notes = [beta(luck, chance) for luck in history.note_luck]
    tones = [beta(luck, chance) for luck in history.tone_luck]
    return [
        notes[table.note_of(cell)] + tones[table.tone_of(cell)] + OWN_SHARE * beta(luck, chance)
        for cell, luck in enumerate(history.cell_luck)
    ]


def hope(table: Table, history: History, cell: int) -> float:
    """The expected sum of the same three, without chance: the highest is the likeliest to hit."""
    note, tone = history.note_luck[table.note_of(cell)], history.tone_luck[table.tone_of(cell)]
    return _mean(note) + _mean(tone) + OWN_SHARE * _mean(history.cell_luck[cell])


def _mean(luck: Luck) -> float:
    return (1 + luck[0]) / (2 + luck[0] + luck[1])
