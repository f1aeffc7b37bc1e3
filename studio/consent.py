"""Permission to record: without one that stands, no microphone opens and no upload is taken."""

from __future__ import annotations

from django.utils import timezone

from studio.models import Consent, Membership, User

WORDING = "2026-11"  # version of the text in templates/studio/_consent_wording.html


def stands(student: Membership) -> bool:
    return student.consents.filter(wording=WORDING, withdrawn_at=None).exists()


def give(*, student: Membership, given_by: str, how: str, logged_by: User) -> Consent:
    return Consent.objects.create(student=student, wording=WORDING, given_by=given_by, how=how, logged_by=logged_by)


def withdraw(*, student: Membership) -> int:
    """Take every standing permission back. Returns how many there were."""
    return student.consents.filter(withdrawn_at=None).update(withdrawn_at=timezone.now())
