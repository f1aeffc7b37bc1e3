"""Your ear: the next tone to hear blind, and how many of each kind were heard."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from random import Random

from django.db.models import Count, Q, QuerySet
from django.utils.translation import gettext as _

from assignments import ear_draw
from assignments.ear_draw import AIM, OF_SHAPE, Kind, Tally
from assignments.models import EarAnswer, Exercise, Try, Week
from assignments.queries import past
from assignments.queries.sounding import Sounding, soundings, with_relations
from studio.access import horns_of_staff
from studio.models import Horn, Membership


@dataclass(frozen=True, slots=True)
class Choice:
    level: str
    label: str
    answered: int


@dataclass(frozen=True, slots=True)
class Line:
    """One kind of tone in words."""

    label: str
    tally: Tally


@dataclass(frozen=True, slots=True)
class EarPage:
    level: str
    choices: tuple[Choice, ...]
    tone: Sounding | None  # the next one; None: every tone of this level was heard
    kinds: tuple[Line, ...]  # those of which there is anything

    @property
    def answered(self) -> int:
        return next(one.answered for one in self.choices if one.level == self.level)

    @property
    def aim(self) -> int:
        return AIM


def page(staff: Membership, level: str, dice: Random) -> EarPage:
    """``level`` unknown or empty: the one with most tones to hear. A fixed number of queries."""
    given = _given(staff)
    if level not in Horn.Level.values:
        level = _most_played(staff)
    answered: Counter[str] = Counter()
    for (of_level, _tone, _accepted), count in given.items():
        answered[of_level] += count
    choices = tuple(Choice(value, str(name), answered[value]) for value, name in Horn.Level.choices)
    pool = pool_of(staff, level).exclude(ear_answers__by=staff.user)
    tallies = _tallies(given, level, pool)
    kind = ear_draw.next_kind(tallies, dice)
    kinds = tuple(Line(kind_label(tally.kind), tally) for tally in tallies if tally.is_here)
    if kind is None:
        return EarPage(level, choices, None, kinds)
    waiting = next(tally.waiting for tally in tallies if tally.kind == kind)
    place = dice.randrange(waiting)
    key = _of_kind(pool, kind).order_by("pk").values_list("pk", flat=True)[place]  # keys alone: rows are wide to sort
    row = with_relations(Try.objects.all()).get(pk=key)
    return EarPage(level, choices, soundings([row])[row.pk], kinds)


def pool_of(staff: Membership, level: str) -> QuerySet[Try]:
    """Daily tones that were judged and whose recording is kept: those that may be answered about."""
    return (
        _lately(staff)
        .filter(
            take__exercise__in=Exercise.objects.filter(week__level=level, week__horn__in=horns_of_staff(staff)),
            counts=True,
            tone_index__isnull=False,
            outcome__in=(Try.Outcome.HIT, Try.Outcome.MISS),
        )
        .exclude(take__analysis__audio="")
    )


def _lately(staff: Membership) -> QuerySet[Try]:
    """Tries of days that may still have sound, or that were kept as milestones: years would take long."""
    with_sound = Q(on__gte=past.kept_since(staff.studio)) | Q(take__milestone__isnull=False)
    return Try.objects.filter(with_sound, horn__in=horns_of_staff(staff))


def tallies(staff: Membership, level: str) -> tuple[Tally, ...]:
    """What was heard of each kind of tone of that level, and what waits. Two queries."""
    return _tallies(_given(staff), level, pool_of(staff, level).exclude(ear_answers__by=staff.user))


def kind_label(kind: Kind) -> str:
    return {"plain": _("plain tones"), "swells": _("swells"), "steps": _("steps")}[kind]


def _given(staff: Membership) -> dict[tuple[str, str, bool], int]:
    """Blind answers by level, tone and whether it was accepted."""
    columns = ("about_try__take__exercise__week__level", "about_try__tone", "accepted")
    rows = EarAnswer.objects.filter(by=staff.user, blind=True).values_list(*columns).annotate(n=Count("pk"))
    return {(level, tone, accepted): count for level, tone, accepted, count in rows}


def _tallies(given: dict[tuple[str, str, bool], int], level: str, pool: QuerySet[Try]) -> tuple[Tally, ...]:
    mine = {(tone, accepted): count for (of_level, tone, accepted), count in given.items() if of_level == level}
    accepted = {tone: count for (tone, yes), count in mine.items() if yes}
    others = {tone: count for (tone, yes), count in mine.items() if not yes}
    waiting = dict(pool.values_list("tone").annotate(n=Count("pk")))
    return ear_draw.tallies(accepted, others, waiting)


def _of_kind(pool: QuerySet[Try], kind: Kind) -> QuerySet[Try]:
    if kind == "plain":
        return pool.exclude(tone__in=tuple(OF_SHAPE))
    return pool.filter(tone__in=[tone for tone, of in OF_SHAPE.items() if of == kind])


def _most_played(staff: Membership) -> str:
    weeks = Week.objects.filter(horn__in=horns_of_staff(staff), ends_on__gte=past.kept_since(staff.studio))
    counted = weeks.values_list("level").annotate(n=Count("exercises__takes")).order_by("-n")
    first = counted.first()
    return first[0] if first else Horn.Level.INTERMEDIATE
