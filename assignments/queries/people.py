"""Who belongs to a studio, on which horns, and whose permission stands."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q, QuerySet
from django.utils.dates import WEEKDAYS
from django.utils.formats import time_format

from assignments import builds
from studio.consent import WORDING
from studio.models import Horn, Membership, Studio

Role = Membership.Role


@dataclass(frozen=True, slots=True)
class HornLine:
    horn: Horn
    build: str

    @property
    def in_use(self) -> bool:
        return self.horn.put_away_on is None


@dataclass(frozen=True, slots=True)
class Person:
    membership: Membership
    horns: tuple[HornLine, ...]
    may_record: bool
    consent_from: str
    taken_back_at: dt.datetime | None  # the permission that was given last
    guardians: tuple[Membership, ...]
    teachers: tuple[str, ...]

    @property
    def name(self) -> str:
        return str(self.membership.user)

    @property
    def horns_in_use(self) -> str:
        return ", ".join(line.build for line in self.horns if line.in_use)

    @property
    def lesson(self) -> str:
        """``Tuesday 16:30``; empty without a fixed day."""
        day, at = self.membership.lesson_weekday, self.membership.lesson_at
        if day is None:
            return ""
        return f"{WEEKDAYS[day]} {time_format(at, 'H:i') if at else ''}".strip()


@dataclass(frozen=True, slots=True)
class PeoplePage:
    studio: Studio
    students: tuple[Person, ...]
    staff: tuple[Person, ...]
    left: tuple[Person, ...]

    @property
    def without_family(self) -> tuple[Person, ...]:
        """Students who are not of age and whose family has no account."""
        return tuple(one for one in self.students if not one.guardians and not one.membership.of_age)

    @property
    def to_hand_over(self) -> tuple[tuple[Membership, int], ...]:
        """Who left, or leaves on a day that is set, and with how many students the lessons still are."""
        left = Counter(
            teacher for one in self.students for teacher in one.membership.teachers.all() if teacher.ends_on is not None
        )
        return tuple(sorted(left.items(), key=lambda pair: pair[0].user.name))

    @property
    def has_families(self) -> bool:
        return any(one.guardians for one in self.students)

    @property
    def waiting_for_consent(self) -> int:
        return sum(not student.may_record for student in self.students)


def everybody(studio: Studio) -> PeoplePage:
    """Seven queries for any number of people."""
    today = studio.today()
    people = [person(row) for row in _rows(studio)]
    here = [one for one in people if not _has_left(one.membership, today)]
    return PeoplePage(
        studio=studio,
        students=tuple(one for one in here if one.membership.role == Role.STUDENT),
        staff=tuple(one for one in here if one.membership.role in (Role.OWNER, Role.TEACHER, Role.ASSISTANT)),
        left=tuple(one for one in people if _has_left(one.membership, today)),
    )


def teachers(studio: Studio) -> QuerySet[Membership]:
    """Who gives lessons here now."""
    here = Q(ends_on=None) | Q(ends_on__gte=studio.today())
    found = Membership.objects.filter(here, studio=studio, role__in=(Role.OWNER, Role.TEACHER))
    return found.select_related("user").order_by("user__name", "pk")


def person(row: Membership) -> Person:
    """One of them. Without more queries when its relations came along."""
    given = sorted(row.consents.all(), key=lambda consent: consent.given_at)
    standing = [consent for consent in given if consent.wording == WORDING and not consent.withdrawn_at]
    return Person(
        membership=row,
        horns=tuple(HornLine(horn, builds.words(horn)) for horn in _in_order(list(row.horns.all()))),
        may_record=bool(standing),
        consent_from=standing[-1].given_by if standing else "",
        taken_back_at=given[-1].withdrawn_at if given else None,
        guardians=tuple(row.guardians.all()),
        teachers=tuple(teacher.user.name for teacher in row.teachers.all()),
    )


def _rows(studio: Studio) -> QuerySet[Membership]:
    rows = Membership.objects.filter(studio=studio).exclude(role=Role.GUARDIAN)
    related = ("horns", "consents", "guardians__user", "teachers__user")
    rows = rows.select_related("user", "studio").prefetch_related(*related)
    return rows.order_by("user__name", "pk")


def _in_order(horns: Sequence[Horn]) -> list[Horn]:
    return sorted(horns, key=lambda horn: (horn.put_away_on is not None, horn.in_use_since_on, str(horn.pk)))


def _has_left(row: Membership, today: dt.date) -> bool:
    return row.ends_on is not None and row.ends_on < today
