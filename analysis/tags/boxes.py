"""Tags of MP4 and its relatives (ISO/IEC 14496-12): ``udta`` and ``meta`` hold title, place and device."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.tags.patch import MOST_PARTS, Patch, Readable, at

TELLING = {b"udta", b"meta", b"uuid"}
HOLDING = {b"moov", b"trak"}


def found(file: Readable, size: int) -> Iterator[Patch]:
    """Each telling box becomes a ``free`` one."""
    place = 0
    for _part in range(MOST_PARTS):
        head = at(file, place, 16)
        if len(head) < 8:
            return
        length, kind, head_bytes = int.from_bytes(head[:4], "big"), head[4:8], 8
        if length == 1 and len(head) == 16:
            length, head_bytes = int.from_bytes(head[8:], "big"), 16
        elif length == 0:  # to the end of the file
            length = size - place
        if length < head_bytes:
            return  # no box begins here
        if kind in TELLING:
            yield Patch(place + 4, b"free")
            yield Patch(place + head_bytes, b"", min(length, size - place) - head_bytes)
        place += head_bytes if kind in HOLDING else length
