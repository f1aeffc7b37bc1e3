"""Pure intervals beside equal temperament (data/just.toml)."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path


def just_cents(sounding_midi: int, root_midi: int) -> float:
    """How far a note that is pure over the root lies above its place in equal temperament, in cents.

    1200 log2(ratio) - 100 x semitones: a pure major third lies 13.7 cents lower, a fifth 2.0 higher.
    """
    semitones = (sounding_midi - root_midi) % 12
    over, under = ratios()[semitones]
    return 1200.0 * math.log2(over / under) - 100.0 * semitones


@cache
def ratios() -> Mapping[int, tuple[int, int]]:
    """By semitones over the root, 0 to 11."""
    table = tomllib.loads((Path(__file__).parent / "data" / "just.toml").read_text(encoding="utf-8"))
    return {int(semitones): (over, under) for semitones, (over, under) in table["ratio"].items()}
