"""What was measured and others reckon with: written by the benches, read by ``python -m tests.bench.capacity``."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TypedDict

FILE = Path(__file__).with_name("figures.json")


class Figures(TypedDict, total=False):
    """Seconds and bytes; each of one thing."""

    page_processor_s: float  # of the mix in ``carried``: four of five are a student's, one is a teacher's
    tone_s: float  # how long the recording of one tone is …
    tone_processor_s: float  # … and how long one processor is busy with it, decoding and all
    tone_bytes: int
    row_bytes: dict[str, float]  # on PostgreSQL with its indexes, by table
    web_process_mb: float  # after two hundred uploads
    worker_mb: float


def read() -> Figures:
    found: Figures = json.loads(FILE.read_text(encoding="utf-8"))
    return found


def add(new: Figures) -> None:
    FILE.write_text(json.dumps({**read(), **new}, indent=2, sort_keys=True) + "\n", encoding="utf-8")
