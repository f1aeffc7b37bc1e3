"""The rows of the bench table. Each compares things that ran in the same minute on the same processor."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from analysis import audio
from analysis.core.records import Request
from tests.bench import baselines
from tests.bench.clock import command_seconds, instructions, peak_megabytes, seconds
from tests.bench.material import take

MINUTE = 60
LONGEST_S = 70.0 * MINUTE


@dataclass(frozen=True, slots=True)
class Row:
    """``sense``: whether ``limit`` is the most or the least allowed; without one it is for comparing days."""

    what: str
    value: float
    unit: str
    limit: float | None = None
    sense: Literal["at most", "at least"] = "at most"

    @property
    def held(self) -> bool:
        if self.limit is None:
            return True
        return self.value <= self.limit if self.sense == "at most" else self.value >= self.limit

    @property
    def shown(self) -> str:
        return f"{self.value:.3g} {self.unit}" if self.value < 1000 else f"{self.value:,.0f} {self.unit}"

    @property
    def limit_shown(self) -> str:
        return "no limit" if self.limit is None else f"{self.sense} {self.limit:g}"

    def cells(self) -> tuple[str, str, str, str]:
        return self.what, self.shown, self.limit_shown, "yes" if self.held else "NO"


def measured(path: Path) -> None:
    audio.hear(path, Request(instrument="alto"), longest_s=LONGEST_S)


def in_a_new_process(path: Path) -> str:
    return (
        "from analysis import audio; from analysis.core.records import Request; "
        f"audio.hear({str(path)!r}, Request(instrument='alto'), longest_s={LONGEST_S})"
    )


def speed(folder: Path) -> Iterator[Row]:
    path = take(folder, 20 * MINUTE)
    measured(take(folder, 10))  # everything is loaded before the clock starts
    chain_s, least_s = seconds(lambda: measured(path)), seconds(lambda: baselines.decode_and_transform(path))
    yield Row("whole chain, 20 minutes of AAC", 20 * MINUTE / chain_s, "x real time", 300, "at least")
    yield Row("whole chain over decode and one transform", chain_s / least_s, "times", 2.2)


def others(folder: Path) -> Iterator[Row]:
    path = take(folder, 2 * MINUTE)
    samples = baselines.decoded(path)
    baselines.pyin(samples[:48_000])  # compiles
    chain_s = seconds(lambda: measured(path)) / (2 * MINUTE)
    praat_s = seconds(lambda: baselines.praat(samples), 1) / (2 * MINUTE)
    pyin_s = seconds(lambda: baselines.pyin(samples[: 20 * 24_000]), 1) / 20
    yield Row(
        "Praat's pitch, intensity and harmonicity over the whole chain", praat_s / chain_s, "times", 10, "at least"
    )
    yield Row("librosa.pyin over the whole chain", pyin_s / chain_s, "times", 100, "at least")


def memory(folder: Path) -> Iterator[Row]:
    bare, _ = peak_megabytes()
    for minutes in (20, 60):
        own, child = peak_megabytes(in_a_new_process(take(folder, minutes * MINUTE)))
        yield Row(f"memory over a bare interpreter, {minutes} minutes", own - bare, "MB", 250)
        yield Row(f"memory of the decoder beside it, {minutes} minutes", child, "MB")


def linearity(folder: Path) -> Iterator[Row]:
    short, long = take(folder, 10 * MINUTE), take(folder, 60 * MINUTE)
    short_s, long_s = seconds(lambda: measured(short)), seconds(lambda: measured(long), 1)
    yield Row("60 minutes over 10 minutes", long_s / short_s, "times", 6.3)


def start(folder: Path) -> Iterator[Row]:
    path = take(folder, 10)
    command = [sys.executable, "manage.py", "measure", str(path), "--json"]
    yield Row("measure, 10 seconds, second run from cold", command_seconds(command, 2)[1], "s", 2.5)
    audio.Decoder.keep_spare = True  # as a worker does
    try:
        measured(path)
        yield Row("10 seconds in a worker that has warmed up", seconds(lambda: measured(path), 7), "s", 0.15)
    finally:
        audio.Decoder.keep_spare = False


def work(folder: Path) -> Iterator[Row]:
    """Of the core in the process itself, imports taken away by comparing two lengths."""
    counts = [instructions(in_a_new_process(take(folder, length))) for length in (10, 20)]
    if counts[0] and counts[1]:
        per_second = (counts[1][0] - counts[0][0]) / 10
        yield Row(f"instructions a second of sound ({counts[0][1]})", per_second / 1e6, "million")


PARTS: tuple[Callable[[Path], Iterator[Row]], ...] = (speed, others, memory, linearity, start, work)
