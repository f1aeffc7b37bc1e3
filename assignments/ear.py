"""A teacher's ear against the limits: how far they agree, and which limit the ear would set. Standard library only.

Tones are judged blind, accept or not yet. Each target is looked at alone, by how much of its own limit in the table is
taken up (``analysis.core.targets.share``), so that limits which differ from note to note move together. A limit that
keeps at least 97 % of the accepted tones is offered, with the share of the others that it would catch; how sure such a
share is, Wilson's interval says (E. B. Wilson 1927, J. Am. Stat. Assoc. 22:209).
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, field

KEEP = 0.97  # of the accepted tones: with four targets a tone, all met by about nine in ten
Z = 1.959963984540054  # of a normal distribution: 95 % lie within
LEAST_ACCEPTED = 30  # house figure: with fewer, 97 % is a matter of one tone
TIGHTEST, WIDEST = 0.25, 4.0  # times the table's limit: below, the reading itself ends; above, it limits nothing


@dataclass(frozen=True, slots=True)
class Labelled:
    """One tone that was judged by ear. ``shares``: by target, how much of the table's limit it took up.

    ``missed``: targets that were missed as the tone counted; ``advised``: those that were missed and decide nothing;
    ``lost``: it missed something that has no limit to move (a crack, another note, steps that turn back).
    """

    accepted: bool
    shares: Mapping[str, float] = field(default_factory=dict)
    missed: Collection[str] = ()
    advised: Collection[str] = ()
    lost: bool = False


@dataclass(frozen=True, slots=True)
class Share:
    """``count`` of ``of``, and between what the true share lies with 95 % confidence."""

    count: int
    of: int
    low: float
    high: float

    @property
    def share(self) -> float | None:
        return self.count / self.of if self.of else None


@dataclass(frozen=True, slots=True)
class Finding:
    """One target. ``factor``: how many times as wide as the table's the offered limit is; None: nothing accepted."""

    measure: str
    agreed: Share  # accepted and met, or not yet and missed, of all
    factor: float | None
    kept: Share  # of the accepted, with that limit
    caught: Share  # of the others

    @property
    def may_be_adopted(self) -> bool:
        return self.factor is not None and self.kept.of >= LEAST_ACCEPTED and self.factor <= WIDEST


def share(count: int, of: int) -> Share:
    """With Wilson's interval; of nothing everything is possible."""
    if of == 0:
        return Share(0, 0, 0.0, 1.0)
    part, weight = count / of, Z * Z / of
    middle = (part + weight / 2) / (1 + weight)
    reach = Z / (1 + weight) * math.sqrt(part * (1 - part) / of + weight / (4 * of))
    return Share(count, of, max(0.0, middle - reach), min(1.0, middle + reach))


def factor_that_keeps(shares: Iterable[float], keep: float = KEEP) -> float | None:
    """The least limit, as a share of the table's, that at least ``keep`` of these stay within; rounded up to 1 %."""
    ordered = sorted(shares)
    if not ordered:
        return None
    place = math.ceil(keep * len(ordered) - 1e-9) - 1
    return max(TIGHTEST, math.ceil(ordered[place] * 100 - 1e-9) / 100)


def finding(labelled: Sequence[Labelled], measure: str) -> Finding:
    """What the ear says about one target, from the tones in which it was measured."""
    tones = [tone for tone in labelled if measure in tone.shares]
    accepted = [tone.shares[measure] for tone in tones if tone.accepted]
    others = [tone.shares[measure] for tone in tones if not tone.accepted]
    factor = factor_that_keeps(accepted)
    limit = math.inf if factor is None else factor
    return Finding(
        measure,
        agreed=share(sum(tone.accepted != _is_missed(tone, measure) for tone in tones), len(tones)),
        factor=factor,
        kept=share(sum(one <= limit for one in accepted), len(accepted)),
        caught=share(sum(one > limit for one in others), len(others)),
    )


def _is_missed(tone: Labelled, measure: str) -> bool:
    return measure in tone.missed or measure in tone.advised


def agreement(labelled: Sequence[Labelled]) -> Share:
    """Whole tones: accepted and nothing missed, or not yet and something missed."""
    return share(sum(tone.accepted != (tone.lost or bool(tone.missed)) for tone in labelled), len(labelled))


def together(labelled: Sequence[Labelled], factors: Mapping[str, float]) -> tuple[Share, Share]:
    """With all of these limits at once: the share of the accepted that is kept, and of the others that is caught."""

    def is_caught(tone: Labelled) -> bool:
        return tone.lost or any(tone.shares.get(measure, 0.0) > factor for measure, factor in factors.items())

    accepted = [not is_caught(tone) for tone in labelled if tone.accepted]
    others = [is_caught(tone) for tone in labelled if not tone.accepted]
    return share(sum(accepted), len(accepted)), share(sum(others), len(others))
