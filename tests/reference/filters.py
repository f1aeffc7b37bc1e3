"""Filters of FFmpeg, through PyAV: what phones do to sound, done by others."""

from __future__ import annotations

from fractions import Fraction

import av
import av.filter
import numpy as np

from tests.reference.signals import Samples

Step = tuple[str, dict[str, float | str]]  # a filter and its arguments, by their names in FFmpeg's documentation


def through(samples: Samples, rate_hz: int, *steps: Step) -> Samples:
    """``samples`` through these filters, one after the other, and back at the rate they came with."""
    graph = av.filter.Graph()
    source = graph.add_abuffer(sample_rate=rate_hz, format="flt", layout="mono", time_base=Fraction(1, rate_hz))
    back = {"sample_fmts": "flt", "channel_layouts": "mono", "sample_rates": rate_hz}
    last = source
    for name, arguments in (*steps, ("aformat", back), ("abuffersink", {})):
        step = graph.add(name, **{key: str(value) for key, value in arguments.items()})
        last.link_to(step)
        last = step
    graph.configure()
    out: list[np.ndarray] = []
    for start in range(0, len(samples), rate_hz):
        part = np.ascontiguousarray(samples[None, start : start + rate_hz].astype(np.float32))
        frame = av.AudioFrame.from_ndarray(part, format="flt", layout="mono")
        frame.sample_rate, frame.pts, frame.time_base = rate_hz, start, Fraction(1, rate_hz)
        source.push(frame)
        _pull(last, out)
    source.push(None)
    _pull(last, out)
    return np.concatenate(out).astype(np.float64)


def _pull(sink: av.filter.context.FilterContext, out: list[np.ndarray]) -> None:
    """Everything that is ready."""
    while True:
        try:
            frame = sink.pull()
        except (av.error.BlockingIOError, av.error.EOFError):
            return
        assert isinstance(frame, av.AudioFrame)
        out.append(frame.to_ndarray().reshape(-1))
