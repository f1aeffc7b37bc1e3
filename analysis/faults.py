"""Expected trouble with a recording, in words that say what to do next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.core.words import words

if TYPE_CHECKING:
    from analysis.core.records import AudioInfo


CODES = (
    "not_a_file",
    "not_audio",
    "no_sound_track",
    "strange_sound_format",
    "cannot_be_read_safely",
    "too_long",
)


@dataclass(eq=False)  # not frozen: context managers set an exception's traceback
class Fault(Exception):  # noqa: N818 - the project's word for expected trouble
    """A recording that cannot be measured. ``code`` is stable; ``text`` is one or two plain sentences with advice.

    Codes: those of ``CODES``.
    """

    code: str
    audio: AudioInfo | None = None  # what is known of the file, if it could be opened at all

    @property
    def text(self) -> str:
        return words(self.code).advice

    @property
    def is_audio(self) -> bool:
        """A sound file all right, only not one that can be measured."""
        return self.code == "too_long"

    @property
    def died(self) -> bool:
        """The decoder was ended by the file, not by its own word: worth one more try."""
        return self.code == "cannot_be_read_safely"

    def __str__(self) -> str:
        return self.text
