"""The rows of the bench table. Each compares things that ran in the same minute on the same processor."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from analysis import audio
from analysis.core.records import Request
from analysis.core.spectrum import SAMPLE_RATE_HZ
from analysis.synthesis import SAMPLE_RATE_HZ as RECORDED_HZ
from tests.bench import baselines
from tests.bench.clock import instructions, peak_megabytes, processor_seconds, run, wall_seconds
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
    short, as_recorded = (baselines.decoded(take(folder, 2 * MINUTE), rate_hz) for rate_hz in (SAMPLE_RATE_HZ, None))
    measured(take(folder, 10))  # everything is loaded, and compiled where it is, before the clock starts
    baselines.pyin(short[:48_000])
    chain_s, least_s, bare_s = processor_seconds(
        lambda: measured(path),
        lambda: baselines.decode_and_transform(path),
        lambda: baselines.bare_decode_and_transform(path),
    )
    yield Row("whole chain, 20 minutes of AAC", 20 * MINUTE / chain_s, "x real time", 300, "at least")
    yield Row("whole chain over its own decoding and one transform", chain_s / least_s, "times", 2.2)
    yield Row("whole chain over decoding without a process of its own, and one transform", chain_s / bare_s, "times")
    per_second = chain_s / (20 * MINUTE)
    praat_s, pyin_s = processor_seconds(
        lambda: baselines.praat(as_recorded, RECORDED_HZ), lambda: baselines.pyin(short[: 20 * SAMPLE_RATE_HZ]), times=2
    )
    praat_s, pyin_s = praat_s / (2 * MINUTE), pyin_s / 20
    yield Row("Praat's pitch, intensity, harmonicity over the chain", praat_s / per_second, "times", 10, "at least")
    yield Row("librosa.pyin over the chain", pyin_s / per_second, "times", 100, "at least")


def memory(folder: Path) -> Iterator[Row]:
    bare, _ = peak_megabytes()
    for minutes in (20, 60):
        own, child = peak_megabytes(in_a_new_process(take(folder, minutes * MINUTE)))
        yield Row(f"memory over a bare interpreter, {minutes} minutes", own - bare, "MB", 250)
        yield Row(f"memory of the decoder beside it, {minutes} minutes", child, "MB")


def linearity(folder: Path) -> Iterator[Row]:
    short, long = take(folder, 10 * MINUTE), take(folder, 60 * MINUTE)
    short_s, long_s = processor_seconds(lambda: measured(short), lambda: measured(long), times=3)
    yield Row("60 minutes over 10 minutes", long_s / short_s, "times", 6.3)


def start(folder: Path) -> Iterator[Row]:
    path = take(folder, 10)
    command = [sys.executable, "manage.py", "measure", str(path), "--json"]
    run(command)
    yield Row("measure, 10 seconds, from cold, not the first time", wall_seconds(lambda: run(command), 3), "s", 2.5)
    audio.Decoder.keep_spare = True  # as a worker does
    try:
        measured(path)
        yield Row(
            "10 seconds in a worker that has warmed up", wall_seconds(lambda: measured(path), 7, rest_s=1.0), "s", 0.15
        )
    finally:
        audio.Decoder.keep_spare = False


def work(folder: Path) -> Iterator[Row]:
    """Of the core in the process itself, imports taken away by comparing two lengths."""
    counts = [instructions(in_a_new_process(take(folder, length))) for length in (10, 20)]
    if counts[0] and counts[1]:
        per_second = (counts[1][0] - counts[0][0]) / 10
        yield Row(f"instructions a second of sound ({counts[0][1]})", per_second / 1e6, "million")


PARTS: tuple[Callable[[Path], Iterator[Row]], ...] = (speed, memory, linearity, start, work)
