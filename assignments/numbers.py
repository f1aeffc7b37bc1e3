"""The tones of one student as a table: a line a tone that was heard, and a line a tone that was not."""

from __future__ import annotations

import csv
from collections.abc import Iterator, Mapping
from typing import IO, Any

from analysis.core.tables import note_sign
from analysis.models import Result
from assignments.models import Take, Try
from studio.models import Membership

ASKED = (
    "on", "received_at", "take", "instrument", "exercise", "slot", "asked_note", "asked_written_midi", "asked_tone",
    "asked_partial", "lane", "counts", "outcome", "reasons",
)  # fmt: skip
CURVES = {"course"}  # a tone's whole course in time stands in student.json
STRETCH = "at_s"  # from where to where to listen, or nothing
CODES = {"reasons"}  # lists of words; lists of numbers have tables of their own


def write(student: Membership, out: IO[str]) -> tuple[str, ...]:
    """Names in the first line, with their units; empty: not measured. Read twice, so that it may be of any length.

    Returns the names.
    """
    columns: dict[str, None] = dict.fromkeys(ASKED)
    for line in _lines(student):
        columns.update(dict.fromkeys(line))
    table = csv.DictWriter(out, list(columns), restval="", lineterminator="\r\n")  # as RFC 4180 has it
    table.writeheader()
    table.writerows(_lines(student))
    return tuple(columns)


def _lines(student: Membership) -> Iterator[dict[str, Any]]:
    takes = Take.objects.filter(horn__player=student).select_related("horn", "exercise").order_by("received_at", "pk")
    for take in takes.iterator():
        report = counted(take)
        asked = {row.slot: row for row in take.tries.all()}
        about = {f"take.{name}": value for name, value in flat(report.get("capture", {}))}
        about |= {f"take.{name}": value for name, value in flat(report.get("evenness") or {})}
        for tone in report.get("tones", ()):
            answered = next((row for row in asked.values() if row.tone_index == tone["index"]), None)
            if answered is not None:
                del asked[answered.slot]
            yield {**of_take(take), **_asked(answered), **dict(flat(tone)), **about}
        for row in asked.values():
            yield {**of_take(take), **_asked(row), **about}


def counted(take: Take) -> Mapping[str, Any]:
    """What the engine heard by which its tries counted; nothing, when it couldn't be measured."""
    found = Result.objects.filter(analysis=take.analysis_id).order_by("made_at").first()
    return found.report if found else {}


def of_take(take: Take) -> dict[str, Any]:
    return {
        "on": take.on.isoformat(),
        "received_at": take.received_at.isoformat(),
        "take": str(take.pk),
        "instrument": take.horn.kind,
        "exercise": "lesson" if take.in_lesson else take.exercise.kind,
    }


def _asked(row: Try | None) -> dict[str, Any]:
    if row is None:
        return {}
    return {
        "slot": row.slot,
        "asked_note": note_sign(row.written_midi),
        "asked_written_midi": row.written_midi,
        "asked_tone": row.tone,
        "asked_partial": row.partial,
        "lane": row.lane,
        "counts": int(row.counts),
        "outcome": row.outcome,
        "reasons": " ".join(row.reasons),
    }


def flat(values: Mapping[str, Any], before: str = "") -> Iterator[tuple[str, Any]]:
    """``{"vibrato": {"rate_hz": 5.1}}`` as ``vibrato.rate_hz``. Lists of numbers are left out."""
    for name, value in values.items():
        if isinstance(value, Mapping):
            if name not in CURVES:
                yield from flat(value, f"{before}{name}.")
        elif name == STRETCH:
            yield from zip((f"{before}from_s", f"{before}to_s"), value or ("", ""), strict=True)
        elif isinstance(value, bool):
            yield f"{before}{name}", int(value)
        elif isinstance(value, list):
            if name in CODES:
                yield f"{before}{name}", " ".join(value)
        else:
            yield f"{before}{name}", value
