"""What a sound file says besides its sound, taken out before it is kept: names, places, devices, pictures.

A phone writes where a memo was recorded and on what into the file itself. ``bare`` reads such a file without it. The
bytes that told it read as an empty box of the same length, so nothing else in the file moves and no sound is touched.
What is not understood stays as it is: the decoder says later whether it is sound at all.
"""

from __future__ import annotations

import re
from bisect import bisect_left, bisect_right
from itertools import accumulate

from django.core.files.base import File

from analysis.tags import boxes, chunks, elements, pages
from analysis.tags.patch import Patch

HEAD_BYTES = 12
READERS = (  # how such a file begins
    (re.compile(rb"....(ftyp|moov|mdat|wide|free|skip|pnot)", re.DOTALL), boxes.found),  # MP4, M4A, 3GP; older MOV
    (re.compile(rb"\x1a\x45\xdf\xa3"), elements.found),  # WebM, Matroska
    (re.compile(rb"OggS"), pages.found),
    (re.compile(rb"fLaC"), chunks.found_in_flac),
    (re.compile(rb"(RIFF|RF64)....WAVE", re.DOTALL), chunks.found_in_riff),
    (re.compile(rb"FORM....AIF[FC]", re.DOTALL), chunks.found_in_aiff),
    (re.compile(rb"caff"), chunks.found_in_caf),
    (re.compile(rb""), chunks.found_in_mp3),
)


def bare(audio: File) -> File:
    """``audio`` as it reads without its tags; itself where it has none. It stands at its beginning."""
    audio.seek(0)
    head = audio.read(HEAD_BYTES)
    found = next(one for begins, one in READERS if begins.match(head))
    patches = list(found(audio, audio.size))
    audio.seek(0)
    return Bare(audio, patches) if patches else audio


class Bare(File):
    """A file, some of whose bytes read as others."""

    def __init__(self, audio: File, patches: list[Patch]) -> None:
        super().__init__(audio, name=audio.name)
        self._audio, self._patches = audio, sorted(patches, key=lambda one: one.at)
        self._begin = [one.at for one in self._patches]
        self._over = list(accumulate((one.end for one in self._patches), max))  # nothing up to here reaches further

    def read(self, size: int = -1) -> bytes:
        """Up to ``size`` bytes from where it stands; -1: to its end."""
        at = self._audio.tell()
        content = bytearray(self._audio.read(size))
        # Only those that reach in: a file of nothing but tags would be read for hours.
        for patch in self._patches[bisect_right(self._over, at) : bisect_left(self._begin, at + len(content))]:
            patch.put(content, at)
        return bytes(content)
