"""Tags of WebM and Matroska (RFC 9559): elements with a number, a length and content, within each other."""

from __future__ import annotations

from collections.abc import Iterator

from analysis.tags.patch import MOST_PARTS, Patch, Readable, at

VOID = b"\xec"
SEGMENT, INFO, TRACKS, TRACK = 0x18538067, 0x1549A966, 0x1654AE6B, 0xAE
HOLDING = {SEGMENT, INFO, TRACKS, TRACK}
TELLING = {
    0x1254C367,  # Tags
    0x1941A469,  # Attachments
    0x1043A770,  # Chapters
    0x7BA9,  # the title
    0x536E,  # a track's name
    0xBF,  # a check sum, which would not be right any more
}
MAKERS = {0x4D80, 0x5741}  # which have to be there: they read as nothing
HEAD_BYTES = 12  # the longest number and length


def found(file: Readable, size: int) -> Iterator[Patch]:
    """Each telling element becomes a void one of the same length."""
    place = 0
    for _part in range(MOST_PARTS):
        head = at(file, place, HEAD_BYTES)
        number, number_bytes = _number(head)
        length, length_bytes = _length(head[number_bytes:])
        if not number_bytes or not length_bytes:
            return
        inside = place + number_bytes + length_bytes
        if number in HOLDING or length is None:  # a recorder that streams doesn't know how long a cluster gets
            place = inside
            continue
        if number in TELLING:
            yield _void(place, min(inside + length, size) - place)
        if number in MAKERS:
            yield Patch(inside, b"", max(0, min(length, size - inside)))
        place = inside + length


def _void(place: int, whole: int) -> Patch:
    """``whole`` bytes from ``place`` on: at least two, since the element had a number and a length."""
    length_bytes = 8 if whole > 9 else 1
    left = whole - 1 - length_bytes
    marked = left | 1 << 7 * length_bytes
    return Patch(place, VOID + marked.to_bytes(length_bytes, "big"), left)


def _number(head: bytes) -> tuple[int, int]:
    """An element's number with its marker, and how many bytes it takes; none: 0."""
    count = _count(head)
    return (int.from_bytes(head[:count], "big"), count) if 0 < count <= 4 else (0, 0)


def _length(head: bytes) -> tuple[int | None, int]:
    """How long the content is, None where that wasn't known, and how many bytes say so."""
    count = _count(head)
    value = int.from_bytes(head[:count], "big") & ((1 << 7 * count) - 1)
    return (None if value == (1 << 7 * count) - 1 else value), count


def _count(head: bytes) -> int:
    """How many bytes a number takes: the zeros before its first one bit say so. 0: no number begins here."""
    count = 9 - head[0].bit_length() if head else 0
    return count if count <= min(8, len(head)) else 0
