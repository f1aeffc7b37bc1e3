"""Large recordings arrive in parts, so that a line that breaks every few seconds still brings them home.

A part is appended to a draft under the studio's data folder; its true length is the offset. The finished draft goes
through ``takes.submit`` like any other recording.
"""

from __future__ import annotations

import fcntl
import os
import time
import uuid
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import BinaryIO

from django.conf import settings
from django.utils.translation import gettext as _

from assignments.recordings import MOST_BYTES, out_of_room
from assignments.refusals import Refusal
from studio.models import User

MOST_PART_BYTES = 1024 * 1024
KEPT_S = 14 * 24 * 3600  # a draft that nobody finished


class WrongOffset(Refusal):
    """The part does not follow what is here; ``offset`` says where to go on."""

    def __init__(self, offset: int) -> None:
        super().__init__("offset", _("That part doesn’t follow the last one. Go on from the offset given."), 409)
        self.offset = offset


class NoParts(Refusal):
    """Nothing of the recording is here."""

    def __init__(self) -> None:
        super().__init__("no_parts", _("No part of this recording is here. Send it again from the beginning."), 409)


def offset(user: User, client_key: uuid.UUID) -> int:
    """How many bytes of this recording have arrived."""
    with suppress(FileNotFoundError):  # none has come, or it has just become a take
        return _draft(user, client_key).stat().st_size
    return 0


def others_of(user: User, client_key: uuid.UUID) -> tuple[int, int]:
    """How many recordings besides this one aren't complete yet, and how much has arrived of all."""
    others, arrived = 0, 0
    for path in _drafts(user):
        with suppress(FileNotFoundError):  # it has just become a take
            arrived += path.stat().st_size
            others += path != _draft(user, client_key)
    return others, arrived


def append(user: User, client_key: uuid.UUID, part: bytes, at: int, whole: int) -> int:
    """Add one part that begins at byte ``at`` of ``whole``. Returns the new offset. Raises WrongOffset or Refusal."""
    if whole > MOST_BYTES or len(part) > MOST_PART_BYTES:
        raise Refusal("too_large", _("That file is over 150 MB. Record in shorter pieces."), 413)
    if at and not _draft(user, client_key).exists():
        raise WrongOffset(0)  # before a draft is laid, of which nothing would follow
    with _locked(user, client_key) as draft:
        here = draft.seek(0, os.SEEK_END)
        if at != here:
            raise WrongOffset(here)
        if here + len(part) > whole:
            raise Refusal("too_long", _("More arrived than was announced. Send the recording again."))
        with out_of_room():
            draft.write(part)
            draft.flush()
            os.fsync(draft.fileno())
        return here + len(part)


@contextmanager
def finished(user: User, client_key: uuid.UUID) -> Iterator[BinaryIO]:
    """The whole draft, open for reading; gone afterwards when nothing was raised."""
    path = _draft(user, client_key)
    try:
        draft = path.open("rb")
    except FileNotFoundError as gone:
        raise NoParts from gone
    with draft:
        yield draft
    path.unlink(missing_ok=True)


def forget_abandoned() -> int:
    """Delete drafts that nobody went on with. Returns how many."""
    gone = 0
    for path in _folder().glob("*"):
        with suppress(FileNotFoundError):  # it has just become a take
            if path.stat().st_mtime < time.time() - KEPT_S:
                path.unlink()
                gone += 1
    return gone


def forget(user: User) -> int:
    """Delete every draft of one person. Returns how many there were."""
    drafts = _drafts(user)
    for path in drafts:
        path.unlink(missing_ok=True)
    return len(drafts)


def _folder() -> Path:
    folder = Path(settings.VAR) / "parts"
    folder.mkdir(mode=0o700, exist_ok=True)
    return folder


def _drafts(user: User) -> list[Path]:
    return list(_folder().glob(f"{user.pk}.*"))


def _draft(user: User, client_key: uuid.UUID) -> Path:
    return _folder() / f"{user.pk}.{client_key}"


@contextmanager
def _locked(user: User, client_key: uuid.UUID) -> Iterator[BinaryIO]:
    with _draft(user, client_key).open("ab") as draft:
        fcntl.flock(draft, fcntl.LOCK_EX)  # two tabs sending the same recording take turns
        yield draft
