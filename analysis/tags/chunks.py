"""Tags of files that are chunks one after another (WAV, AIFF, CAF, FLAC), and those at the ends of an MP3."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from analysis.tags.patch import MOST_PARTS, Patch, Readable, at

SOUND_OF_RIFF = {b"fmt ", b"data", b"fact", b"ds64", b"JUNK", b"FLLR"}  # whatever else there is says something
SOUND_OF_AIFF = {b"COMM", b"SSND", b"FVER"}
SOUND_OF_CAF = {b"desc", b"data", b"pakt", b"kuki", b"chan", b"free"}
STREAM_OF_FLAC, SEEKS_OF_FLAC, PADDING_OF_FLAC = 0, 3, 1
ID3V1_BYTES, APE_BYTES = 128, 32


def found_in_riff(file: Readable, size: int) -> Iterator[Patch]:
    return _chunks(file, size, 12, "little", 4, SOUND_OF_RIFF, b"JUNK")


def found_in_aiff(file: Readable, size: int) -> Iterator[Patch]:
    return _chunks(file, size, 12, "big", 4, SOUND_OF_AIFF, b"JUNK")


def found_in_caf(file: Readable, size: int) -> Iterator[Patch]:
    return _chunks(file, size, 8, "big", 8, SOUND_OF_CAF, b"free")


def _chunks(
    file: Readable,
    size: int,
    place: int,
    order: Literal["little", "big"],
    length_bytes: int,
    sound: set[bytes],
    spare: bytes,
) -> Iterator[Patch]:
    """Four letters, a length, content. ``sound``: what stays; anything else becomes a chunk named ``spare``.

    A length of sound that wasn't known when the head was written is none or too long: what follows is all sound.
    """
    for _part in range(MOST_PARTS):
        head = at(file, place, 4 + length_bytes)
        if len(head) < 4 + length_bytes:
            return
        length, inside = int.from_bytes(head[4:], order), place + len(head)
        if head[:4] not in sound:
            yield Patch(place, spare)
            yield Patch(inside, b"", max(0, min(length, size - inside)))
        elif length == 0:
            return
        is_even = length_bytes == 4  # chunks of RIFF and AIFF begin at even places
        place = inside + length + (length % 2 if is_even else 0)


def found_in_flac(file: Readable, size: int, begins_at: int = 0) -> Iterator[Patch]:
    """Whatever isn't needed to decode becomes padding (RFC 9639, section 8)."""
    place = begins_at + 4
    for _part in range(MOST_PARTS):
        head = at(file, place, 4)
        if len(head) < 4:
            return
        last, kind, length = head[0] & 0x80, head[0] & 0x7F, int.from_bytes(head[1:], "big")
        if kind not in (STREAM_OF_FLAC, SEEKS_OF_FLAC, PADDING_OF_FLAC):
            yield Patch(place, bytes([last | PADDING_OF_FLAC]))
            yield Patch(place + 4, b"", max(0, min(length, size - place - 4)))
        if last:
            return
        place += 4 + length


def found_in_mp3(file: Readable, size: int) -> Iterator[Patch]:
    """ID3v2 before the sound, APE and ID3v1 after it. Their headers stay: a reader steps over what they announce.

    Some programs put ID3v2 before a FLAC, and some a second one behind the first.
    """
    place = 0
    for _part in range(MOST_PARTS):
        head = at(file, place, 10)
        if head[:3] != b"ID3" or len(head) < 10:
            break
        length = sum((byte & 0x7F) << 7 * (3 - n) for n, byte in enumerate(head[6:]))
        yield Patch(place + 5, b"\x00")  # no extended header
        yield Patch(place + 10, b"", max(0, min(length, size - place - 10)))
        place += 10 + length
    if head[:4] == b"fLaC":
        yield from found_in_flac(file, size, place)
    end = size
    if size >= ID3V1_BYTES and at(file, size - ID3V1_BYTES, 3) == b"TAG":
        end = size - ID3V1_BYTES
        yield Patch(end + 3, b"", ID3V1_BYTES - 4)
        yield Patch(size - 1, b"\xff")  # no genre
    foot = at(file, max(0, end - APE_BYTES), APE_BYTES)
    if foot[:8] == b"APETAGEX":
        length = int.from_bytes(foot[12:16], "little")  # the items and this foot
        first = max(0, end - length)
        yield Patch(first, b"", max(0, end - APE_BYTES - first))
