"""Recordings, given in whole or in part to those who may hear them."""

from __future__ import annotations

import re
import uuid
from collections.abc import Iterator

from django.contrib.auth.decorators import login_required
from django.core.files import File
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase, StreamingHttpResponse
from django.views.decorators.http import require_safe

from assignments import access, hearings
from assignments.kinds_of_sound import media_type
from studio.access import signed_in

CHUNK_BYTES = 64 * 1024


@login_required
@require_safe
def take_audio(request: HttpRequest, take_id: uuid.UUID) -> HttpResponseBase:
    """The recording; browsers ask for stretches of it (RFC 9110, section 14)."""
    take = access.take_within_sight(signed_in(request), take_id)
    if not take.analysis.audio:
        raise Http404  # deleted when its time was over; the numbers stay
    size = take.analysis.audio_bytes
    stretch = _stretch(request.headers.get("Range", ""), size)
    if stretch is None:
        return HttpResponse(status=416, headers={"Content-Range": f"bytes */{size}"})
    first, last = stretch
    hearings.note(take, signed_in(request), first)
    stored = take.analysis.audio.open("rb")
    kind = media_type(stored.read(12))
    response = StreamingHttpResponse(_bytes(stored, first, last), status=206 if "Range" in request.headers else 200)
    response["Content-Type"] = kind
    response["Content-Length"] = str(last - first + 1)
    response["Content-Disposition"] = f'inline; filename="take-{take.on}.{kind.rsplit("/")[1]}"'
    response["Accept-Ranges"] = "bytes"
    response["Cache-Control"] = "private, no-store"
    response["Content-Security-Policy"] = "default-src 'none'; media-src 'self'; sandbox allow-same-origin"
    if response.status_code == 206:
        response["Content-Range"] = f"bytes {first}-{last}/{size}"
    return response


def _stretch(header: str, size: int) -> tuple[int, int] | None:
    """First and last byte asked for; None when they can't be given. Several ranges at once are read as the whole."""
    wanted = re.fullmatch(r"bytes=(\d*)-(\d*)", header.strip())
    if wanted is None or wanted.groups() == ("", ""):
        return 0, size - 1
    start, end = wanted.groups()
    first = int(start) if start else max(0, size - int(end))
    last = min(int(end), size - 1) if start and end else size - 1
    return (first, last) if first <= last else None


def _bytes(stored: File[bytes], first: int, last: int) -> Iterator[bytes]:
    with stored:
        stored.seek(first)
        left = last - first + 1
        while left > 0 and (chunk := stored.read(min(CHUNK_BYTES, left))):
            left -= len(chunk)
            yield chunk
