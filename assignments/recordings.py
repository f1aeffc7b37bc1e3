"""Keeping a recording, whoever made it: stored whole, known by its hash, and heard as soon as a worker can."""

from __future__ import annotations

import errno
import hashlib
import logging
import uuid
from collections.abc import Collection, Iterator
from contextlib import contextmanager

from django.conf import settings
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import transaction
from django.utils.translation import gettext as _

from analysis import discarding
from analysis.core.records import Request
from analysis.models import Analysis
from analysis.requests import frozen
from assignments.refusals import Refusal
from assignments.sending import send

log = logging.getLogger(__name__)

MOST_BYTES = settings.LARGEST_UPLOAD_BYTES
SHORT_S = 60.0  # a word, or one tone shown: nobody listens longer
SHORT_MOST_BYTES = 20_000_000  # a minute as the largest of sound files: two channels of 24 bits at 48 kHz


def sha256_of(audio: File) -> str:
    """Raises Refusal for a file that is empty or too large."""
    if not audio.size:
        raise Refusal("empty_file", _("That file is empty. Record it again, or choose another file."))
    if audio.size > MOST_BYTES:
        raise Refusal(
            "too_large", _("That file is over 150 MB. Record in shorter pieces, or as an ordinary voice memo."), 413
        )
    digest = hashlib.sha256()
    for chunk in audio.chunks():
        digest.update(chunk)
    audio.seek(0)
    return digest.hexdigest()


def store(audio: File) -> str:
    """The name that it has in the store from now on. Raises Refusal when there is no room.

    Whoever writes no row of it need not take it away: the sweeper clears away files that no row knows.
    """
    name = str(uuid.uuid4())
    with out_of_room():
        return default_storage.save(f"{name[:2]}/{name}", audio)


def queue(name: str, audio: File, sha256: str, request: Request, **how: object) -> Analysis:
    """The row of a stored recording, sent to a worker once the transaction in hand has come through.

    ``how``: further columns of the row.
    """
    analysis = Analysis.objects.create(
        audio=name, audio_bytes=audio.size, sha256=sha256, request=frozen(request), **how
    )
    transaction.on_commit(lambda: send(analysis), robust=True)
    return analysis


def queue_short(audio: File, request: Request, *, spoken: bool = False) -> Analysis:
    """Store and queue a recording of a minute at most. Call it in the transaction that writes whose it is.

    ``spoken``: words, that are read through and not measured. Raises Refusal, with no row written.
    """
    if audio.size > SHORT_MOST_BYTES:
        raise Refusal("too_large", _("That file is over 20 MB. Record a minute at most."), 413)
    sha256 = sha256_of(audio)
    return queue(store(audio), audio, sha256, request, longest_s=SHORT_S, spoken=spoken)


def forget(analyses: Collection[Analysis]) -> None:
    """Delete these recordings, rows and sound; whatever pointed to them is gone already."""
    discarding.note(str(one.audio.name) for one in analyses if one.audio)
    Analysis.objects.filter(pk__in=[one.pk for one in analyses]).delete()


def key_taken() -> Refusal:
    """Somebody else sent something under this key."""
    return Refusal("key_taken", _("That was sent from another page. Open this one again and record it anew."), 409)


@contextmanager
def out_of_room() -> Iterator[None]:
    """A full disk is told to the person; any other trouble with the store is not expected."""
    try:
        yield
    except OSError as trouble:
        if trouble.errno not in (errno.ENOSPC, errno.EDQUOT):
            raise
        log.error("no room for a recording")
        raise Refusal(
            "no_room",
            _("The studio’s computer is full. Keep the recording on the phone; it goes up when there is room."),
            507,
        ) from trouble
