"""Keeping a recording, whoever made it: stored whole, known by its hash, and heard as soon as a worker can."""

from __future__ import annotations

import errno
import hashlib
import logging
import uuid
from collections.abc import Callable, Collection, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TypeVar

from django.conf import settings
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.db import IntegrityError, transaction
from django.db.models import Model, QuerySet
from django.utils.translation import gettext as _

from analysis import discarding
from analysis.core.records import Request
from analysis.models import Analysis
from analysis.requests import frozen
from analysis.tags import bare
from assignments import scanning
from assignments.refusals import Refusal
from assignments.sending import send

log = logging.getLogger(__name__)

MOST_BYTES = settings.LARGEST_UPLOAD_BYTES
SHORT_S = 60.0  # a word, or one tone shown: nobody listens longer
SHORT_MOST_BYTES = 20_000_000  # a minute as the largest of sound files: two channels of 24 bits at 48 kHz


Row = TypeVar("Row", bound=Model)


@dataclass(frozen=True, slots=True)
class Stored:
    """A recording in the store that no row knows yet."""

    name: str
    size_bytes: int
    sha256: str
    sent_sha256: str  # as it came, before its tags were taken out
    longest_s: float | None  # a longer one is refused; None: as long as any take may be


def once(
    audio: File,
    under_key: QuerySet[Row],
    write: Callable[[Stored], Row],
    is_same: Callable[[Row, str], bool],
    *,
    is_short: bool = False,
) -> tuple[Row, bool]:
    """Keep one recording, however often it is sent. Returns the row that knows it, and whether it is new.

    What is kept is the sound: title, place and device that a phone wrote into the file are taken out before.

    ``under_key``: what was sent under its key before; ``is_same``: whether that row is this one, by the sha256 of what
    came. ``write``: writes the row, in a transaction of its own; hashing and storing are over by then, for while it
    lasts nobody else can write. ``is_short``: a minute at most.

    Raises Refusal, with nothing kept, for a file that is empty or too large, where there is no room, when something
    else came under the same key, when a scanner finds fault or can't look; and what ``write`` raises.
    """
    _look_at_size(audio, is_short=is_short)
    sent_sha256 = sha256_of(audio)
    known = _known(under_key, is_same, sent_sha256)
    if known is not None:
        return known, False
    scanning.look_through(audio)
    sound = bare(audio)
    sha256 = sent_sha256 if sound is audio else sha256_of(sound)
    stored = Stored(store(sound), audio.size, sha256, sent_sha256, SHORT_S if is_short else None)
    # Trouble that is not expected leaves the file: a commit that failed to answer may have been made all the same,
    # and the sweeper clears away files that no row knows.
    try:
        with transaction.atomic():
            return write(stored), True
    except (IntegrityError, Refusal):  # the same key won the race, or something has come to stand against it since
        default_storage.delete(stored.name)
        known = _known(under_key, is_same, sent_sha256)
        if known is None:
            raise
        return known, False


def _known(under_key: QuerySet[Row], is_same: Callable[[Row, str], bool], sha256: str) -> Row | None:
    row = under_key.first()
    if row is not None and not is_same(row, sha256):
        raise Refusal("key_taken", _("That was sent from another page. Open this one again and record it anew."), 409)
    return row


def _look_at_size(audio: File, *, is_short: bool) -> None:
    """Raises Refusal for a file that is empty or too large."""
    if not audio.size:
        raise Refusal("empty_file", _("That file is empty. Record it again, or choose another file."))
    if is_short and audio.size > SHORT_MOST_BYTES:
        raise Refusal("too_large", _("That file is over 20 MB. Record a minute at most."), 413)
    if audio.size > MOST_BYTES:
        raise Refusal(
            "too_large", _("That file is over 150 MB. Record in shorter pieces, or as an ordinary voice memo."), 413
        )


def sha256_of(audio: File) -> str:
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


def queue(stored: Stored, request: Request, *, spoken: bool = False) -> Analysis:
    """The row of a stored recording, sent to a worker once the transaction in hand has come through.

    ``spoken``: words, that are read through and not measured.
    """
    analysis = Analysis.objects.create(
        audio=stored.name,
        audio_bytes=stored.size_bytes,
        sha256=stored.sha256,
        sent_sha256=stored.sent_sha256,
        longest_s=stored.longest_s,
        request=frozen(request),
        spoken=spoken,
    )
    transaction.on_commit(lambda: send(analysis), robust=True)
    return analysis


def forget(analyses: Collection[Analysis]) -> None:
    """Delete these recordings, rows and sound; whatever pointed to them is gone already."""
    discarding.note(str(one.audio.name) for one in analyses if one.audio)
    Analysis.objects.filter(pk__in=[one.pk for one in analyses]).delete()


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
