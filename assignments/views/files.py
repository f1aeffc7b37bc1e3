"""Recordings, given in whole or in part to those who may hear them."""

from __future__ import annotations

import os
import re
import uuid
from collections.abc import Callable

from django.contrib.auth.decorators import login_required
from django.core.files import File
from django.http import FileResponse, Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.views.decorators.http import require_safe

from analysis.models import Analysis
from assignments import access, hearings
from assignments.kinds_of_sound import media_type
from studio.access import signed_in


@login_required
@require_safe
def take_audio(request: HttpRequest, take_id: uuid.UUID) -> HttpResponseBase:
    """A recording of a student."""
    by = signed_in(request)
    take = access.take_within_sight(by, take_id)
    return _given(request, take.analysis, f"take-{take.on}", lambda first: hearings.note(take, by, first))


@login_required
@require_safe
def demonstration_audio(request: HttpRequest, demonstration_id: uuid.UUID) -> HttpResponseBase:
    """How a teacher of the studio plays a tone; once it was heard by the worker."""
    row = access.demonstration_within_sight(signed_in(request), demonstration_id)
    return _given(request, _checked(row.analysis), f"demonstration-{row.written_midi}-{row.tone}")


@login_required
@require_safe
def voice_audio(request: HttpRequest, comment_id: uuid.UUID) -> HttpResponseBase:
    """What was said aloud; once it was read through."""
    comment = access.spoken_within_sight(signed_in(request), comment_id)
    return _given(request, _checked(comment.voice), f"words-{comment.made_at:%Y-%m-%d}")


def _checked(kept: Analysis | None) -> Analysis:
    """``kept``, once a worker has decoded it to its end. Raises Http404 before."""
    if kept is None or kept.state != Analysis.State.MEASURED:
        raise Http404
    return kept


def _given(
    request: HttpRequest, kept: Analysis, name: str, note: Callable[[int], None] | None = None
) -> HttpResponseBase:
    """The recording; browsers ask for stretches of it (RFC 9110, section 14).

    ``note``: told the first byte that is given. Raises Http404 where the sound was deleted.
    """
    if not kept.audio:
        raise Http404  # its time was over; the numbers stay
    size = kept.audio_bytes
    stretch = _stretch(request.headers.get("Range", ""), size)
    if stretch is None:
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})
    first, last = stretch
    status = 206 if "Range" in request.headers else 200
    stored = kept.audio.open("rb")
    kind = media_type(stored.read(12))
    if request.method == "HEAD":
        stored.close()
        response: HttpResponseBase = HttpResponse(status=status)
    else:
        response = FileResponse(Stretch(stored, first, last), status=status)
        if note:
            note(first)
    response["Content-Type"] = kind
    response["Content-Length"] = str(last - first + 1)
    response["Content-Disposition"] = f'inline; filename="{name}.{kind.rsplit("/")[1]}"'
    response["Accept-Ranges"] = "bytes"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = "default-src 'none'; media-src 'self'; sandbox allow-same-origin"
    if response.status_code == 206:
        response["Content-Range"] = f"bytes {first}-{last}/{size}"
    return response


def _stretch(header: str, size: int) -> tuple[int, int] | None:
    """First and last byte asked for; None when they can't be given. Several ranges at once are read as the whole."""
    wanted = re.fullmatch(r"bytes=([0-9]{0,18})-([0-9]{0,18})", header.strip())  # no recording has as many bytes
    if wanted is None or wanted.groups() == ("", ""):
        return 0, size - 1
    start, end = wanted.groups()
    first = int(start) if start else max(0, size - int(end))
    last = min(int(end), size - 1) if start and end else size - 1
    return (first, last) if first <= last else None


class Stretch:
    """Bytes of a stored file, as a file of their own: the web server takes it over and reads on as fast as they are
    listened to, while the thread that answered goes on to the next page. The answer closes it."""

    def __init__(self, stored: File[bytes], first: int, last: int) -> None:
        self._stored, self._first, self._size, self._at = stored, first, last - first + 1, 0

    def read(self, size: int = -1) -> bytes:
        left = max(0, self._size - self._at)
        self._stored.seek(self._first + self._at)
        content = self._stored.read(left if size < 0 else min(size, left))
        self._at += len(content)
        return content

    def seek(self, at: int, whence: int = os.SEEK_SET) -> int:
        self._at = at + {os.SEEK_SET: 0, os.SEEK_CUR: self._at, os.SEEK_END: self._size}[whence]
        return self._at

    def tell(self) -> int:
        return self._at

    def close(self) -> None:
        self._stored.close()
