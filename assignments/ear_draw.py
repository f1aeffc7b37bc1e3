"""Which kind of tone the ear is played next, so that of about a hundred enough are swells and steps. No rows, no clock.

Drawn as they are played, seven in ten tones are plain, and the targets of shapes would never be compared. So each kind
has an aim of its own, and what is furthest from it comes more often. Within a kind every tone is as likely: a draw that
looked at verdicts would bend the very shares that it is drawn for.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Literal, get_args

from assignments.ear import LEAST_ACCEPTED

Kind = Literal["plain", "swells", "steps"]
KINDS: tuple[Kind, ...] = get_args(Kind)
OF_SHAPE: Mapping[str, Kind] = {"swell": "swells", "reverse_swell": "swells", "stepped": "steps"}
AIM = 100  # tones: with them a share near 97 % is known to about 4 %
SHAPES_AIM = 30  # of each kind of shape, as far as so many were recorded; all others are plain


@dataclass(frozen=True, slots=True)
class Tally:
    """Of one kind: how many were answered about, how many of these accepted, and how many wait to be heard."""

    kind: Kind
    answered: int
    accepted: int
    waiting: int
    aim: int

    @property
    def missing(self) -> int:
        """Accepted tones that are needed before a limit may be taken from them."""
        return max(0, LEAST_ACCEPTED - self.accepted)

    @property
    def is_here(self) -> bool:
        return bool(self.answered or self.waiting)


def kind_of(tone: str) -> Kind:
    """Of a tone word: a mark or a shape."""
    return OF_SHAPE.get(tone, "plain")


def tallies(accepted: Mapping[str, int], others: Mapping[str, int], waiting: Mapping[str, int]) -> tuple[Tally, ...]:
    """One a kind; the arguments count tones by their words."""
    sums = {kind: [_sum(counts, kind) for counts in (accepted, others, waiting)] for kind in KINDS}
    aims: dict[Kind, int] = {kind: min(SHAPES_AIM, sum(sums[kind])) for kind in KINDS if kind != "plain"}
    aims["plain"] = AIM - sum(aims.values())
    return tuple(Tally(kind, yes + no, yes, left, aims[kind]) for kind, (yes, no, left) in sums.items())


def _sum(counts: Mapping[str, int], kind: Kind) -> int:
    return sum(count for tone, count in counts.items() if kind_of(tone) == kind)


def next_kind(of: Sequence[Tally], dice: Random) -> Kind | None:
    """By chance, the likelier the further from its aim; then from its limits; then whatever waits. None: nothing."""
    here = [tally for tally in of if tally.waiting]
    if not here:
        return None
    wants = (
        [max(0, tally.aim - tally.answered) for tally in here],
        [tally.missing for tally in here],
        [tally.waiting for tally in here],
    )
    weights = next(weights for weights in wants if any(weights))
    return dice.choices([tally.kind for tally in here], weights)[0]
