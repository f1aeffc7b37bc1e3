"""Rows that tests begin with, made by the functions that the pages call."""

from __future__ import annotations

import datetime as dt
import uuid
from collections.abc import Sequence
from pathlib import Path

from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.utils import timezone

from analysis.models import Analysis
from assignments import takes, weeks
from assignments.exercises import Slot
from assignments.models import Demonstration, Exercise, Routine, Take, Week
from studio.models import Horn, Studio, User

FOUNDATION = [{"kind": "daily_tones"}, {"kind": "evenness_run"}]
EXTENSION = [{"kind": "overtones_third"}, {"kind": "overtones_sixth"}, {"kind": "above_the_keys"}]


def routine(
    blocks: Sequence[dict[str, object]] = (*FOUNDATION, *EXTENSION), name: str = "Ground, then overtones"
) -> Routine:
    return Routine.objects.create(name=name, blocks=list(blocks))


def week(horn: Horn, by: User, *, on: dt.date | None = None, **fields: object) -> Week:
    """A week of the foundation alone, begun on ``on`` (default: today)."""
    starts_on = on or horn.studio.today()
    return weeks.set_week(
        horn=horn,
        by=by,
        routine=fields.pop("routine", None) or routine(),  # type: ignore[arg-type]  # a Routine where given
        starts_on=starts_on,
        ends_on=starts_on + dt.timedelta(days=6),
        **fields,  # type: ignore[arg-type]  # fields of set_week
    )


def daily(of: Week) -> Exercise:
    return of.exercises.get(kind="daily_tones")


def take(
    of: Week,
    audio: bytes | Path,
    slots: Sequence[Slot] = (Slot(0, 67, "mf"),),
    *,
    on: dt.date | None = None,
    client_key: uuid.UUID | None = None,
) -> Take:
    """One recording, received."""
    content = audio.read_bytes() if isinstance(audio, Path) else audio
    made, _ = takes.submit(
        horn=of.horn,
        exercise=daily(of),
        on=on or of.horn.studio.today(),
        slots=slots,
        client_key=client_key or uuid.uuid4(),
        audio=ContentFile(content, name="take"),
        recorder={},
    )
    return made


def demonstration(studio: Studio, tone: str = "mf", written_midi: int = 67, instrument: str = "alto") -> Demonstration:
    """How a tone should sound, heard already."""
    name = default_storage.save(f"sh/{uuid.uuid4()}", ContentFile(b"any bytes"))
    analysis = Analysis.objects.create(
        audio=name, audio_bytes=9, sha256="0" * 64, request={}, longest_s=60.0, state=Analysis.State.MEASURED
    )
    return Demonstration.objects.create(
        studio=studio, instrument=instrument, written_midi=written_midi, tone=tone, analysis=analysis,
        settled_at=timezone.now(), from_s=0.5, to_s=8.5, level_db=-20.0,
    )  # fmt: skip
