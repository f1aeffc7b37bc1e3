"""What a try came to by each version of the engine that heard it, for a teacher: first what counted."""

from __future__ import annotations

import uuid
from collections.abc import Sequence
from dataclasses import dataclass

from analysis.models import Result
from assignments import moments
from assignments.models import JudgedAgain, Try
from assignments.queries.telling import told


@dataclass(frozen=True, slots=True)
class Version:
    engine: str
    outcome: str
    happened: str  # why, in the student's words; empty for a tone on target
    counted: bool


def of_tries(rows: Sequence[Try]) -> dict[uuid.UUID, tuple[Version, ...]]:
    """By try, those that were judged again; nothing of the others. Two queries for any number of them."""
    later: dict[uuid.UUID, list[JudgedAgain]] = {}
    for judged in JudgedAgain.objects.filter(about_try__in=rows).order_by("made_at"):
        later.setdefault(judged.about_try_id, []).append(judged)
    heard = Result.objects.filter(analysis__take__tries__in=later).order_by("-made_at")
    first = {row.analysis_id: row.engine for row in heard.defer("report")}
    return {
        row.pk: (
            Version(first.get(row.take.analysis_id, ""), row.outcome, _happened(row, row), counted=True),
            *(Version(one.engine, one.outcome, _happened(row, one), counted=False) for one in later[row.pk]),
        )
        for row in rows
        if row.pk in later
    }


def _happened(row: Try, judged: Try | JudgedAgain) -> str:
    codes = {Try.Outcome.MISS: moments.codes(judged.checks), Try.Outcome.UNREADABLE: tuple(judged.reasons)}.get(
        Try.Outcome(judged.outcome), ()
    )
    words = next((words for code in codes if (words := told(code, row, None))), None)
    return words.student if words else ""
