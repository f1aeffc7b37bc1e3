"""A Measurement as a picture of the whole take: the limits of a stage as bands, what missed them between stakes."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

from django.template.loader import render_to_string

from analysis.audio import read
from analysis.core.judge import GRADUATED, judge
from analysis.core.records import Asked, Check, Measurement, Request, Target, Tone
from analysis.core.spectrum import SAMPLE_RATE_HZ
from analysis.core.tables import instrument, note_sign
from analysis.core.targets import Level, target_for
from analysis.drawing.take import take_plot

Flagged = tuple[Tone, tuple[float, float]]
LONGEST_NAME = 20  # of a file: the line has to fit over the shortest take


def plotted(audio: str | os.PathLike[str], measurement: Measurement, request: Request, level: Level) -> str:
    """The take as an SVG that stands alone. The file is decoded once more: nothing ever holds its sound."""
    targets = [target_of(tone, request, level) for tone in measurement.tones]
    flagged = to_hear(measurement, request, targets)
    with read(audio) as recording:
        stretches = [stretch for _, stretch in flagged]
        plot = take_plot(measurement, recording, SAMPLE_RATE_HZ, targets=targets, flagged=stretches)
    words = title(Path(audio).name, measurement, request, level, flagged)
    drawn: str = render_to_string("analysis/take_plot.svg.html", {"plot": plot, "title": words})
    return drawn


def asked_of(tone: Tone, request: Request) -> Asked:
    """What the tone answers. One that nobody asked for by name is taken for what it was, as the take was meant."""
    if tone.asked_index is not None:
        return request.asked[tone.asked_index]
    return Asked(tone.written_midi, None, request.shape, request.dynamic, request.pulses_per_second)


def target_of(tone: Tone, request: Request, level: Level) -> Target:
    """The table's limits of that stage for what was asked, over the range the instrument is usually built with."""
    asked, horn = asked_of(tone, request), instrument(request.instrument)
    word = asked.shape if asked.shape in GRADUATED else asked.dynamic
    return target_for(
        level,
        asked.written_midi,
        word,
        lowest=horn.lowest_written,
        highest=horn.highest_written,
        partial=asked.partial,
    )


def to_hear(measurement: Measurement, request: Request, targets: Sequence[Target]) -> list[Flagged]:
    """The tones that missed a limit, each with the stretch of its first miss. No mark is held against a scale."""
    found = []
    for tone, target in zip(measurement.tones, targets, strict=True):
        verdict = judge(tone, asked_of(tone, request), target, measurement.capture, None)
        stretch = next((check.at_s for check in verdict.checks if _decides(check)), None)
        if stretch is not None:
            found.append((tone, stretch))
    return found


def _decides(check: Check) -> bool:
    return check.must and check.verdict == "missed" and check.at_s is not None


def title(name: str, measurement: Measurement, request: Request, level: Level, flagged: Sequence[Flagged]) -> str:
    """The picture's message in one line, also for who can't see it."""
    short = name if len(name) <= LONGEST_NAME else f"{name[: LONGEST_NAME - 1]}…"
    count = len(measurement.tones)
    if not count:
        return f"{short}, {request.instrument}: no tone was found."
    tones = "one tone" if count == 1 else f"{count} tones"
    return f"{short}, {request.instrument}, {level} targets: {tones}. {_where(flagged)}"


def _where(flagged: Sequence[Flagged]) -> str:
    if not flagged:
        return "Nothing to hear again."
    tone, (start_s, _) = flagged[0]
    more = f", and {len(flagged) - 1} more" if len(flagged) > 1 else ""
    return f"Hear {note_sign(tone.written_midi)} at {start_s:.1f} s{more}."
