"""Tries together with what was heard in them: the second they sound at, their picture, their numbers."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from django.db.models import QuerySet
from django.urls import reverse

from analysis import drawing, results
from analysis.core.records import LevelScale, Tone
from analysis.models import Result
from assignments import moments
from assignments.exercises import SHAPED, Slot, kinds
from assignments.limits import target_of
from assignments.models import DayPlan, Try
from assignments.naming import note_said, tone_said

BEFORE_S, AFTER_S = 0.15, 0.3  # a breath of room around a tone


@dataclass(frozen=True, slots=True)
class Sounding:
    """One try and its tone. ``tone`` is None when nothing was heard that answers it."""

    row: Try
    tone: Tone | None
    scale: LevelScale | None

    @property
    def is_kept(self) -> bool:
        """Whether the recording is still there to hear."""
        return bool(self.row.take.analysis.audio)

    @property
    def address(self) -> str:
        return reverse("take_audio", args=[self.row.take_id])

    @property
    def said(self) -> str:
        """For readers: ``C sharp 5, very soft``."""
        return f"{note_said(self.row.written_midi)}, {tone_said(self.row.tone)}"

    @property
    def place(self) -> int:
        """Which tone of the day's plan it was, from 1."""
        return int(self.row.take.asked[self.row.slot]["slot"]) + 1

    @property
    def from_s(self) -> float:
        return max(0.0, self.tone.start_s - BEFORE_S) if self.tone else 0.0

    @property
    def to_s(self) -> float | None:
        return self.tone.end_s + AFTER_S if self.tone else None

    @property
    def stretch(self) -> tuple[str, float, float]:
        """Address, from and to: one entry of a list to hear."""
        return self.address, round(self.from_s, 3), round(self.to_s or 3600.0, 3)

    @property
    def here(self) -> tuple[float, float] | None:
        """The flagged stretch in take seconds."""
        return moments.here(self.row.checks)

    def drawn(self, *, flag: bool = True, here: tuple[float, float] | None = None) -> drawing.Strip | None:
        """The strip against the target that held; None: no tone to draw. ``here`` goes before what the checks flag."""
        if self.tone is None:
            return None
        slot = Slot(**self.row.take.asked[self.row.slot])
        shaped = slot.tone in SHAPED
        return drawing.strip(
            self.tone,
            shape=slot.tone if shaped else "sustained",  # type: ignore[arg-type]  # a shape word
            dynamic="mf" if shaped else slot.tone,  # type: ignore[arg-type]  # a level word
            target=target_of(self.row.take, slot),
            scale=self.scale,
            flagged=(here or self.here) if flag else None,
            beat_s=self.row.take.exercise.week.beat_s,
            beats=kinds()[self.row.take.exercise.kind].beats,
            level_control="level_control_suspected" in self.tone.hidden.values(),
        )


def with_relations(rows: QuerySet[Try]) -> QuerySet[Try]:
    """What ``soundings`` and the target of a try need, in the same query."""
    return rows.select_related("take__analysis", "take__exercise__week", "take__horn__player__studio")


def soundings(rows: Iterable[Try]) -> dict[uuid.UUID, Sounding]:
    """By try. Two queries for any number of them; ``rows`` come from ``with_relations``."""
    tries = list(rows)
    tones = _tones({(row.take.analysis_id, row.tone_index) for row in tries})
    scales = _scales(tries)
    return {
        row.pk: Sounding(
            row=row,
            tone=tones.get((row.take.analysis_id, row.tone_index)),
            scale=scales.get((row.horn_id, row.on)),
        )
        for row in tries
    }


def _tones(wanted: Collection[tuple[uuid.UUID, int | None]]) -> dict[tuple[uuid.UUID, int | None], Tone]:
    """By analysis and place in its report, of the engine by which it counted. The other tones stay unread."""
    analyses = {analysis for analysis, _index in wanted}
    heard = Result.objects.filter(analysis__in=analyses).order_by("-made_at")
    counted = {row.analysis_id: row for row in heard}  # the first that was made stays
    found: dict[tuple[uuid.UUID, int | None], Tone] = {}
    for analysis, result in counted.items():
        tones = [tone for tone in result.report["tones"] if (analysis, tone["index"]) in wanted]
        for tone in results.measurement({**result.report, "tones": tones}).tones:
            found[analysis, tone.index] = tone
    return found


def _scales(tries: Sequence[Try]) -> dict[tuple[uuid.UUID, dt.date], LevelScale]:
    """The soft-to-loud of each day that was checked."""
    plans = DayPlan.objects.filter(
        horn__in={row.horn_id for row in tries}, on__in={row.on for row in tries}, sound_check__isnull=False
    )
    return {
        (plan.horn_id, plan.on): LevelScale(plan.sound_check["softest_db"], plan.sound_check["loudest_db"])
        for plan in plans
        if plan.sound_check
    }
