"""Permission to record: without one that stands, no microphone opens and no upload is taken."""

from __future__ import annotations

from collections.abc import Collection
from uuid import UUID

from django.db import transaction
from django.utils import timezone

from studio import access_log
from studio.models import Consent, Membership, User

WORDING = "2026-11"  # version of the text in force: templates/studio/wordings/<version>.html
What = access_log.What


def stands(student: Membership | None) -> bool:
    return student is not None and student.consents.filter(wording=WORDING, withdrawn_at=None).exists()


def standing_of(students: Collection[Membership]) -> set[UUID]:
    """The keys of those of many who may be recorded. One query."""
    standing = Consent.objects.filter(student__in=students, wording=WORDING, withdrawn_at=None)
    return set(standing.values_list("student", flat=True))


def held(student: Membership) -> Membership | None:
    """The student's row, locked until the transaction ends, so that permission can't be taken back meanwhile.

    None: erased. ``stands`` is then False.
    """
    return Membership.objects.select_for_update().filter(pk=student.pk).first()


@transaction.atomic
def give(*, student: Membership, given_by: str, how: str, logged_by: User) -> Consent:
    """``given_by``: the grown-up who agreed; ``logged_by``: who wrote it down, the same person on the screen."""
    what = What.CONSENT_ON_PAPER if how == Consent.How.PAPER else What.CONSENT_GIVEN
    access_log.write(what, studio=student.studio, who=logged_by, about=student)
    return Consent.objects.create(
        student=student,
        wording=WORDING,
        given_by=given_by,
        how=how,
        keep_takes_days=student.studio.keep_takes_days,
        logged_by=logged_by,
    )


def keep_days(student: Membership) -> int:
    """For how many days a recording of this student is kept: as the house says, and no longer than was agreed to."""
    agreed = student.consents.filter(withdrawn_at=None).order_by("-given_at").first()
    house = student.studio.keep_takes_days
    return min(house, agreed.keep_takes_days) if agreed else house


@transaction.atomic
def withdraw(*, student: Membership, by: User) -> int:
    """Take every standing permission back. Returns how many there were."""
    held(student)
    access_log.write(What.CONSENT_TAKEN_BACK, studio=student.studio, who=by, about=student)
    return student.consents.filter(withdrawn_at=None).update(withdrawn_at=timezone.now())
