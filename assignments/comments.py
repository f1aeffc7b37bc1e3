"""Saying something to somebody, written or spoken: pinned to a tone, or about nothing in particular."""

from __future__ import annotations

import uuid

from django.core.files.base import File
from django.db import transaction
from django.utils import timezone

from analysis.core.records import Request
from assignments import recordings
from assignments.models import Comment, PrivateNote, Take, Try
from studio.models import Horn, User


def note(
    horn: Horn, *, by: User, text: str, about: Try | None = None, at_s: float | None = None, take: Take | None = None
) -> Comment:
    """``about``: the tone it is about; ``at_s``: the second in its recording. Guardians can read what is written.

    ``take``: a recording it belongs to where it is about no single tone of it.
    """
    return Comment.objects.create(
        horn=horn, by=by, text=text, about_try=about, take=about.take if about else take, at_s=at_s
    )


def speak(
    horn: Horn, *, by: User, audio: File, key: uuid.UUID, about: Try | None, at_s: float | None, text: str
) -> Comment:
    """The same aloud, a minute at most; ``text`` may be empty. Sent twice under one ``key`` it is said once.

    Nobody is given it before it was read through. Raises Refusal.
    """

    def write(stored: recordings.Stored) -> Comment:
        return Comment.objects.create(
            pk=key,
            horn=horn,
            by=by,
            text=text,
            about_try=about,
            take=about.take if about else None,
            at_s=at_s,
            voice=recordings.queue(stored, Request(instrument=horn.kind), spoken=True),
        )

    def is_same(row: Comment, sha256: str) -> bool:
        said = row.voice.sha256_as_sent if row.voice else ""
        return (row.horn_id, row.by_id, said) == (horn.pk, by.pk, sha256)

    under_key = Comment.objects.filter(pk=key).select_related("voice")
    return recordings.once(audio, under_key, write, is_same, is_short=True)[0]


def take_back(spoken: Comment) -> None:
    """Delete what was said aloud, words and sound."""
    with transaction.atomic():
        voice = spoken.voice
        spoken.delete()
        recordings.forget([voice] if voice else [])


def keep_private(
    horn: Horn, *, by: User, text: str, about: Try | None = None, at_s: float | None = None
) -> PrivateNote:
    """In writing, among those who teach."""
    return PrivateNote.objects.create(horn=horn, by=by, text=text, about_try=about, at_s=at_s)


def read(horn: Horn, *, by: User) -> int:
    """What others said about this horn has been read by ``by``. Returns how many words were new."""
    return Comment.objects.filter(horn=horn, seen_at=None).exclude(by=by).update(seen_at=timezone.now())
