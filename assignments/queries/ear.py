"""Your ear: the next tone to hear blind, and what the answers so far say about the limits."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from random import Random
from typing import Any

from django.db.models import Count, QuerySet
from django.utils.formats import number_format
from django.utils.translation import gettext as _

from analysis.core.targets import target_for
from assignments import ear, ear_answers
from assignments.exercises import Slot
from assignments.models import AdoptedLimit, EarAnswer, Try
from assignments.queries.numbers import label, with_unit
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.access import horns_of_staff
from studio.models import Horn, Membership

AIM = 100  # tones: with them a share near 97 % is known to about 4 %
PLAIN_NOTE, PLAIN_TONE = 70, "mf"  # where no exception of the table holds: the limit that is shown


@dataclass(frozen=True, slots=True)
class Choice:
    level: str
    label: str
    answered: int


@dataclass(frozen=True, slots=True)
class EarPage:
    level: str
    choices: tuple[Choice, ...]
    tone: Sounding | None  # the next one; None: every tone of this level was heard

    @property
    def answered(self) -> int:
        return next(one.answered for one in self.choices if one.level == self.level)

    @property
    def aim(self) -> int:
        return AIM


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


@dataclass(frozen=True, slots=True)
class FoundPage:
    level: str
    level_label: str
    answered: int
    agreed: str
    lines: tuple[Line, ...]
    kept: str  # of the accepted, with all offered limits at once
    caught: str
    missing: int  # accepted tones that are needed before a limit may be taken
    beside: str  # came to the same, of the tones answered beside their verdict; they set no limit

    @property
    def least(self) -> int:
        return ear.LEAST_ACCEPTED


def page(staff: Membership, level: str, dice: Random) -> EarPage:
    """``level`` unknown or empty: the one with most tones to hear. A fixed number of queries."""
    mine = EarAnswer.objects.filter(by=staff.user, blind=True)
    given = dict(
        mine.values_list("about_try__take__exercise__week__level")
        .annotate(n=Count("pk"))
        .values_list("about_try__take__exercise__week__level", "n")
    )
    if level not in Horn.Level.values:
        level = _most_played(staff)
    choices = tuple(Choice(value, str(name), given.get(value, 0)) for value, name in Horn.Level.choices)
    pool = pool_of(staff, level).exclude(ear_answers__by=staff.user)
    waiting = pool.count()
    if not waiting:
        return EarPage(level, choices, None)
    place = dice.randrange(waiting)
    row = with_relations(pool.order_by("pk"))[place : place + 1].get()
    return EarPage(level, choices, soundings([row])[row.pk])


def pool_of(staff: Membership, level: str) -> QuerySet[Try]:
    """Daily tones that were judged and whose recording is kept: those that may be answered about."""
    return Try.objects.filter(
        horn__in=horns_of_staff(staff),
        take__exercise__week__level=level,
        counts=True,
        tone_index__isnull=False,
        outcome__in=(Try.Outcome.HIT, Try.Outcome.MISS),
    ).exclude(take__analysis__audio="")


def _most_played(staff: Membership) -> str:
    counted = (
        Try.objects.filter(horn__in=horns_of_staff(staff))
        .values_list("take__exercise__week__level")
        .annotate(n=Count("pk"))
        .order_by("-n")
    )
    first = counted.first()
    return first[0] if first else Horn.Level.INTERMEDIATE


def found(staff: Membership, level: str) -> FoundPage:
    """What the answers of this teacher say about each target of that level."""
    tones = labelled(staff, level)
    held = ear_answers.in_force(staff.studio, level, staff.studio.today())
    findings = [ear.finding(tones, measure) for measure in ear_answers.TARGETS.values()]
    offered = {one.measure: one.factor for one in findings if one.factor is not None}
    kept, caught = ear.together(tones, offered)
    return FoundPage(
        level=level,
        level_label=str(Horn.Level(level).label),
        answered=len(tones),
        agreed=_words(ear.agreement(tones)),
        lines=tuple(_line(one, level, held.get(one.measure)) for one in findings),
        kept=_words(kept),
        caught=_words(caught),
        beside=_words(ear.agreement(labelled(staff, level, blind=False))),
        missing=max(0, ear.LEAST_ACCEPTED - sum(tone.accepted for tone in tones)),
    )


def labelled(staff: Membership, level: str, *, blind: bool = True) -> list[ear.Labelled]:
    """The tones that this teacher answered about, each figure as a share of the table's limit.

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
    lost = False
    for check in row.checks:
        measure = ear_answers.TARGETS.get(check["part"])
        gone = check["must"] and check["verdict"] == "missed"
        if measure is None:
            lost = lost or gone
        elif check["value"] is not None:
            decides_at = ear_answers.DECIDES_FROM.get(measure, 1.0) * getattr(table, measure)
            shares[measure] = check["value"] / decides_at
            missed |= {measure} if gone else set()
    return ear.Labelled(accepted, shares, missed, lost)


def _line(one: ear.Finding, level: str, adopted: AdoptedLimit | None) -> Line:
    table = target_for(level, PLAIN_NOTE, PLAIN_TONE, lowest=58, highest=90)  # type: ignore[arg-type]
    part = next(part for part, measure in ear_answers.TARGETS.items() if measure == one.measure)
    family = "level" if part == "level_db" else ""
    limit = getattr(table, one.measure)
    now = limit * (adopted.factor or 1.0 if adopted else 1.0)
    return Line(
        measure=one.measure,
        label=label(family, part),
        now=with_unit(now, family, part),
        offered=with_unit(limit * one.factor, family, part) if one.factor is not None else "",
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
