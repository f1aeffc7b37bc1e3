"""Writing a word to somebody: pinned to a tone, or about nothing in particular."""

from __future__ import annotations

from django.utils import timezone

from assignments.models import Comment, PrivateNote, Try
from studio.models import Horn, User


def note(horn: Horn, *, by: User, text: str, about: Try | None = None, at_s: float | None = None) -> Comment:
    """``about``: the tone it is about; ``at_s``: the second in its recording. Guardians can read what is written."""
    return Comment.objects.create(
        horn=horn, by=by, text=text, about_try=about, take=about.take if about else None, at_s=at_s
    )


def keep_private(
    horn: Horn, *, by: User, text: str, about: Try | None = None, at_s: float | None = None
) -> PrivateNote:
    """The same, among those who teach."""
    return PrivateNote.objects.create(horn=horn, by=by, text=text, about_try=about, at_s=at_s)


def read(horn: Horn, *, by: User) -> int:
    """What others said about this horn has been read by ``by``. Returns how many words were new."""
    return Comment.objects.filter(horn=horn, seen_at=None).exclude(by=by).update(seen_at=timezone.now())
