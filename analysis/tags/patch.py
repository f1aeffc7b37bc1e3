"""Bytes that stand in for others at the same place of a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Protocol

MOST_PARTS = 250_000  # of one file that are looked at: an hour of the shortest blocks
FURTHEST = 2**40  # no recording is so long, and systems refuse to look for a place that no file can have


class Readable(Protocol):
    def read(self, size: int, /) -> bytes: ...

    def seek(self, at: int, /) -> object: ...


@dataclass(frozen=True, slots=True)
class Patch:
    """From byte ``at`` on ``content``, then nothing but zeros for ``zeros`` bytes."""

    at: int
    content: bytes
    zeros: int = 0

    @property
    def end(self) -> int:
        return self.at + len(self.content) + self.zeros

    def put(self, into: bytearray, begins_at: int) -> None:
        """Overwrite what of ``into``, which begins at byte ``begins_at`` of the file, falls under this patch."""
        middle = self.at + len(self.content)
        first, last = max(self.at, begins_at), min(middle, begins_at + len(into))
        if first < last:
            into[first - begins_at : last - begins_at] = self.content[first - self.at : last - self.at]
        first, last = max(middle, begins_at), min(self.end, begins_at + len(into))
        if first < last:
            into[first - begins_at : last - begins_at] = bytes(last - first)


def at(file: Readable, place: int, size: int) -> bytes:
    """``size`` bytes from ``place`` on, or as many as there are."""
    if place > FURTHEST:
        return b""
    file.seek(place)
    return file.read(size)
