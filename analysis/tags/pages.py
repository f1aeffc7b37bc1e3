"""Tags of Ogg (RFC 3533): packets at the beginning of each stream in the file, one after another or side by side.

Its pages carry a check sum, which is made anew. Each packet keeps its length.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import pairwise

from analysis.tags.patch import MOST_PARTS, Patch, Readable, at

HEAD_BYTES, MOST_LENGTHS = 27, 255
BEGINS = 2  # the flag of a stream's first page
MOST_PAGES = 512  # of one stream before its sound: 33 megabytes, several large pictures
KINDS = (  # how a stream begins, how its comments do, and what they end with
    (b"OpusHead", b"OpusTags", b"\x01"),  # to Opus it is padding
    (b"\x01vorbis", b"\x03vorbis", b"\x01"),
    (b"\x80theora", b"\x81theora", b""),
    (b"Speex   ", b"", b""),
)
FLAC = b"\x7fFLAC"  # RFC 9639, section 10.1: then one block a packet
FIRST_BLOCK_AT = 13  # in the first packet
LAST, STREAM, PADDING, SEEKS, COMMENTS = 0x80, 0, 1, 3, 4
BACKWARDS = bytes(int(f"{byte:08b}"[::-1], 2) for byte in range(256))


def found(file: Readable, size: int) -> Iterator[Patch]:
    """Who made it reads as spaces, and nothing else is said."""
    place, begun = 0, dict[bytes, Headers]()
    for _part in range(MOST_PARTS):
        head = at(file, place, HEAD_BYTES + MOST_LENGTHS)
        length = _length(head)
        stream = head[14:18]
        if length is None:
            return
        if head[5] & BEGINS:
            begun[stream] = Headers()
        if stream in begun:
            page = at(file, place, length)
            if len(page) < length:
                return
            begun[stream].add(place, page)
            if begun[stream].is_over:
                yield from begun.pop(stream).without()
        place += length


@dataclass(slots=True)
class Headers:
    """The pages at the beginning of a stream, until its sound begins."""

    pages: list[tuple[int, bytes]] = field(default_factory=list)  # where in the file, and all of it
    body: bytearray = field(default_factory=bytearray)  # what is in them
    ends: list[int] = field(default_factory=lambda: [0])  # of packets in the body
    is_over: bool = False

    def add(self, place: int, page: bytes) -> None:
        lengths = page[HEAD_BYTES : HEAD_BYTES + page[26]]
        end = len(self.body)
        self.pages.append((place, page))
        self.body += page[HEAD_BYTES + len(lengths) :]
        for length in lengths:
            end += length
            if length < 255:
                self.is_over = self.is_over or self._is_last(self.ends[-1], end)
                self.ends.append(end)
        self.is_over = self.is_over or len(self.pages) >= MOST_PAGES

    def _is_last(self, first: int, end: int) -> bool:
        """Whether the packet that stands there is sound, or the last before it."""
        if not self.body.startswith(FLAC):
            return len(self.ends) == 2
        flag = first or FIRST_BLOCK_AT
        return flag < end and bool(self.body[flag] & LAST)

    def without(self) -> Iterator[Patch]:
        for first, end in pairwise(self.ends[1:]):
            is_second = first == self.ends[1]
            self.body[first:end] = self._plain(bytes(self.body[first:end]), is_second=is_second)
        begins = 0
        for place, page in self.pages:
            head = HEAD_BYTES + page[26]
            new = bytearray(page[:head] + self.body[begins : begins + len(page) - head])
            begins += len(page) - head
            if new != page:
                new[22:26] = bytes(4)
                new[22:26] = _check_sum(bytes(new)).to_bytes(4, "little")
                yield Patch(place, bytes(new))

    def _plain(self, packet: bytes, *, is_second: bool) -> bytes:
        if self.body.startswith(FLAC):
            return _plain_block(packet)
        for begins, mark, end in KINDS:
            if is_second and self.body.startswith(begins) and packet.startswith(mark):
                said = _nothing(len(packet) - len(mark) - len(end))
                return mark + said + end if said else packet
        return packet


def _plain_block(packet: bytes) -> bytes:
    """A block of FLAC as it reads without what it says. Sound begins with eight ones: a kind that no block has."""
    kind = packet[0] & ~LAST if packet else STREAM
    if kind in (STREAM, SEEKS, LAST - 1) or len(packet) < 4:
        return packet
    said = _nothing(len(packet) - 4) if kind == COMMENTS else b""
    if said:
        return packet[:4] + said
    return bytes([packet[0] & LAST | PADDING]) + packet[1:4] + bytes(len(packet) - 4)


def _nothing(size: int) -> bytes:
    """Comments of so many bytes; none where they would be shorter than any."""
    spare = size - 8
    return spare.to_bytes(4, "little") + b" " * spare + bytes(4) if spare >= 0 else b""


def _length(head: bytes) -> int | None:
    """Of the page that begins there; None where none does."""
    if len(head) < HEAD_BYTES or head[:4] != b"OggS":
        return None
    lengths = head[HEAD_BYTES : HEAD_BYTES + head[26]]
    return HEAD_BYTES + len(lengths) + sum(lengths) if len(lengths) == head[26] else None


def _check_sum(page: bytes) -> int:
    """RFC 3533, appendix: that of zlib with every bit the other way round, begun and ended with nothing added."""
    backwards = zlib.crc32(page.translate(BACKWARDS), 0xFFFFFFFF) ^ 0xFFFFFFFF
    return int(f"{backwards:032b}"[::-1], 2)
