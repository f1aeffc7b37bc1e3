"""What a teacher's ear says about the limits, target by target."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from analysis.core.targets import share, target_for, widened
from assignments import ear, ear_answers
from assignments.exercises import Slot
from assignments.models import AdoptedLimit, EarAnswer, Try
from assignments.queries import ear as ear_query
from assignments.queries.numbers import label, with_unit
from studio.models import Horn, Membership

PLAIN_NOTE, PLAIN_TONE = 70, "mf"  # where no exception of the table holds: the limit that is shown


@dataclass(frozen=True, slots=True)
class Line:
    """One target in words."""

    measure: str
    label: str
    now: str  # the limit for weeks that begin today, on a plain tone
    offered: str
    agreed: str
    kept: str
    caught: str
    found: ear.Finding
    adopted: AdoptedLimit | None

    @property
    def may_be_taken(self) -> bool:
        """Whether taking the offered limit would change anything, and enough was heard for it."""
        held = self.adopted.factor if self.adopted else 1.0
        return self.found.may_be_adopted and self.found.factor != held

    @property
    def missing(self) -> int:
        """Accepted tones in which it was measured that are needed before a limit may be taken."""
        return max(0, ear.LEAST_ACCEPTED - self.found.kept.of)

    @property
    def is_advice(self) -> bool:
        return self.measure in ear_answers.ADVICE


@dataclass(frozen=True, slots=True)
class FoundPage:
    level: str
    level_label: str
    answered: int
    agreed: str
    lines: tuple[Line, ...]
    kept: str  # of the accepted, with all offered limits at once
    caught: str
    kinds: tuple[ear_query.Line, ...]  # of tones, as far as there are any
    beside: str  # came to the same, of the tones answered beside their verdict; they set no limit

    @property
    def missing(self) -> int:
        """Accepted tones, of the kind that has fewest, that are needed before a limit may be taken."""
        return max((kind.tally.missing for kind in self.kinds), default=ear.LEAST_ACCEPTED)


def page(staff: Membership, level: str) -> FoundPage:
    """What the answers of this teacher say about each target of that level that there is anything to hear of."""
    tones = labelled(staff, level)
    held = ear_answers.in_force(staff.studio, level, staff.studio.today())
    kinds = tuple(
        ear_query.Line(ear_query.kind_label(one.kind), one) for one in ear_query.tallies(staff, level) if one.is_here
    )
    findings = [ear.finding(tones, measure) for measure in _measures({one.tally.kind for one in kinds})]
    deciding = {one.measure: one.factor for one in findings if one.measure not in ear_answers.ADVICE}
    kept, caught = ear.together(tones, {name: factor for name, factor in deciding.items() if factor is not None})
    return FoundPage(
        level=level,
        level_label=str(Horn.Level(level).label),
        answered=len(tones),
        agreed=_words(ear.agreement(tones)),
        lines=tuple(_line(one, level, held.get(one.measure)) for one in findings),
        kept=_words(kept),
        caught=_words(caught),
        kinds=kinds,
        beside=_words(ear.agreement(labelled(staff, level, blind=False))),
    )


def _measures(kinds: set[str]) -> list[str]:
    """The targets that tones of these kinds have; those of all tones even where nothing was played yet."""
    measures = [*ear_answers.OF_TONES.values()]
    measures += ear_answers.OF_SHAPES if kinds & {"swells", "steps"} else ()
    measures += ear_answers.OF_SWELLS if "swells" in kinds else ()
    measures += ear_answers.OF_STEPS if "steps" in kinds else ()
    return measures


def labelled(staff: Membership, level: str, *, blind: bool = True) -> list[ear.Labelled]:
    """The tones that this teacher answered about, each figure by how much of the table's limit it takes up.

    Only blind answers set limits: whoever has read the verdict hears it.
    """
    answers = EarAnswer.objects.filter(
        by=staff.user,
        blind=blind,
        about_try__take__exercise__week__level=level,
        about_try__horn__player__studio=staff.studio,
    ).select_related("about_try__take__horn")
    return [_labelled(one.about_try, one.accepted, level) for one in answers]


def _labelled(row: Try, accepted: bool, level: str) -> ear.Labelled:
    lowest, highest = row.take.horn.written_range
    slot = Slot(**row.take.asked[row.slot])
    table = target_for(level, slot.written_midi, slot.tone, lowest=lowest, highest=highest)  # type: ignore[arg-type]
    shares: dict[str, float] = {}
    missed: set[str] = set()
    advised: set[str] = set()
    lost = False
    for check in row.checks:
        measure = ear_answers.TARGETS.get(check["part"])
        gone = check["verdict"] == "missed"
        if measure is None:
            lost = lost or (gone and check["must"])
        elif check["value"] is not None:
            decides_at = ear_answers.DECIDES_FROM.get(measure, 1.0) * getattr(table, measure)
            shares[measure] = share(measure, check["value"], decides_at)
            missed |= {measure} if gone and check["must"] else set()
            advised |= {measure} if gone and measure in ear_answers.ADVICE else set()
    return ear.Labelled(accepted, shares, missed, advised, lost)


def _line(one: ear.Finding, level: str, adopted: AdoptedLimit | None) -> Line:
    table = target_for(level, PLAIN_NOTE, PLAIN_TONE, lowest=58, highest=90)  # type: ignore[arg-type]
    part = next(part for part, measure in ear_answers.TARGETS.items() if measure == one.measure)
    family = "level" if part == "level_db" else ""
    limit = getattr(table, one.measure)
    held = adopted.factor if adopted else None
    return Line(
        measure=one.measure,
        label=label(family, part),
        now=with_unit(widened(one.measure, limit, held or 1.0), family, part),
        offered=with_unit(widened(one.measure, limit, one.factor), family, part) if one.factor is not None else "",
        agreed=_words(one.agreed),
        kept=_words(one.kept),
        caught=_words(one.caught),
        found=one,
        adopted=adopted,
    )


def _words(part: ear.Share) -> str:
    """``29 of 30 (83–99)``: the count, and between how many in a hundred the true share lies."""
    if not part.of:
        return _("none yet")
    places: Mapping[str, Any] = {
        "n": part.count,
        "of": part.of,
        "low": number_format(100 * part.low, 0),
        "high": number_format(100 * part.high, 0),
    }
    return _("%(n)d of %(of)d (%(low)s–%(high)s)") % places
