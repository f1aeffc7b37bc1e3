"""How a tone should sound: a teacher plays it once, and everybody on that instrument hears it beside their own."""

from __future__ import annotations

import uuid
from collections.abc import Iterable
from typing import Any
from uuid import UUID

from django.core.files.base import File
from django.db import transaction
from django.db.models import QuerySet
from django.utils import timezone

from analysis.core.records import Request
from assignments import recordings
from assignments.exercises import Slot
from assignments.models import Demonstration
from studio.models import Studio, User


def keep(
    studio: Studio, *, by: User, instrument: str, written_midi: int, tone: str, audio: File, key: uuid.UUID
) -> Demonstration:
    """Keep what was played and have it heard; sent twice under one ``key`` it stays one. Raises Refusal.

    What students heard until now stays until this one was heard too (``settle``).
    """

    def write(stored: recordings.Stored) -> Demonstration:
        asked = Slot(0, written_midi, tone).asked()
        request = Request(instrument=instrument, a4_hz=studio.a4_hz, asked=(asked,))
        return Demonstration.objects.create(
            pk=key,
            studio=studio,
            by=by,
            instrument=instrument,
            written_midi=written_midi,
            tone=tone,
            analysis=recordings.queue(stored, request),
        )

    def is_same(row: Demonstration, sha256: str) -> bool:
        return (row.studio_id, row.analysis.sha256_as_sent) == (studio.pk, sha256)

    under_key = Demonstration.objects.filter(pk=key).select_related("analysis")
    return recordings.once(audio, under_key, write, is_same, is_short=True)[0]


def settle(analysis_id: UUID) -> None:
    """Write down where the tone sounds and how loud; one that was heard replaces what was there. Twice does no harm."""
    row = Demonstration.objects.filter(analysis=analysis_id, settled_at=None).select_related("analysis").first()
    if row is None or not row.analysis.is_over:
        return
    tone = _tone(row)
    with transaction.atomic():
        row.settled_at = timezone.now()
        if tone is not None:
            row.from_s, row.to_s, row.level_db = tone["start_s"], tone["end_s"], tone["level_db"]
        row.save(update_fields=["settled_at", "from_s", "to_s", "level_db"])
        same = of_same_tone(row).exclude(pk=row.pk).filter(made_at__lte=row.made_at)
        let_go(same if tone is not None else same.filter(settled_at__isnull=False, level_db=None))


def _tone(row: Demonstration) -> dict[str, Any] | None:
    """What was heard of the tone that it shows, as the report says it."""
    result = row.analysis.results.order_by("made_at").first()
    tones = result.report["tones"] if result else ()
    return next((tone for tone in tones if tone["asked_index"] == 0), None)


def of_same_tone(row: Demonstration) -> QuerySet[Demonstration]:
    return Demonstration.objects.filter(
        studio=row.studio_id, instrument=row.instrument, written_midi=row.written_midi, tone=row.tone
    )


def let_go(rows: QuerySet[Demonstration]) -> None:
    """Delete these with their sound."""
    with transaction.atomic():
        gone = list(rows.select_related("analysis"))
        Demonstration.objects.filter(pk__in=[row.pk for row in gone]).delete()
        recordings.forget([row.analysis for row in gone])


def heard(studio_id: UUID, instrument: str, tones: Iterable[tuple[int, str]]) -> dict[tuple[int, str], Demonstration]:
    """What there is to hear, by written note and tone word. One query."""
    notes = {written_midi for written_midi, _tone in tones}
    rows = Demonstration.objects.filter(
        studio=studio_id, instrument=instrument, written_midi__in=notes, level_db__isnull=False
    )
    return {(row.written_midi, row.tone): row for row in rows.select_related("by").order_by("made_at")}
