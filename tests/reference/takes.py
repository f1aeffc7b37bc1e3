"""A folder of real takes with truth, if present: recordings, and beside each a JSON of what is in it.

The folder is named by TESTS_REFERENCE_AUDIO. No take of it is ever part of the project.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

from analysis.audio import hear
from analysis.core.records import Measurement, Request
from tests.reference.conftest import real_takes_folder

DRY = ["a2", "a3", "b", "c", "d", "e", "f", "g", "h", "i0"]
SOUNDS = {".flac", ".m4a", ".opus"}


@dataclass(frozen=True)
class RealTake:
    """``truth``: one entry a note, times in seconds of this file, cents and levels as Praat and plain RMS read them."""

    name: str
    path: Path
    offset_s: float
    truth: tuple[dict[str, Any], ...]

    @property
    def short(self) -> str:
        return self.name.split("_")[0]

    @property
    def dry(self) -> bool:
        return self.short in DRY

    @property
    def shape(self) -> str:
        return {"e": "swell", "f": "stepped"}.get(self.short, "sustained")

    @property
    def plain(self) -> bool:
        return self.shape == "sustained"

    def with_fault(self, kind: str) -> list[dict[str, Any]]:
        return [note for note in self.truth if any(fault["type"] == kind for fault in note["faults"])]

    def measured(self) -> Measurement:
        return _measured(self.path, self.shape)

    def __str__(self) -> str:
        return self.name


@cache
def takes() -> tuple[RealTake, ...]:
    """Every take of the folder; none if there is no such folder."""
    folder = real_takes_folder()
    found = []
    for path in sorted(folder.iterdir()) if folder else ():
        if path.suffix in SOUNDS:
            truth = json.loads(path.with_suffix(".json").read_text(encoding="utf-8"))
            offset_s = truth.get("codec_offset_samples", 0) / truth["sample_rate"]
            found.append(RealTake(path.stem, path, offset_s, tuple(truth["notes"])))
    return tuple(found)


def take(short: str) -> RealTake:
    return next(one for one in takes() if one.short == short)


@cache
def _measured(path: Path, shape: str) -> Measurement:
    return hear(path, Request(instrument="alto", shape=shape))  # type: ignore[arg-type] # one of the two above
