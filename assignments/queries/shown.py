"""How the teacher plays a tone, to be heard beside the student's own and made as loud."""

from __future__ import annotations

import uuid
from collections.abc import Collection
from dataclasses import dataclass

from django.urls import reverse

from assignments import demonstrations
from assignments.models import Demonstration
from assignments.queries.around import matching_db
from assignments.queries.sounding import AFTER_S, BEFORE_S, Sounding


@dataclass(frozen=True, slots=True)
class Shown:
    """A demonstration that was heard, with the gain that makes it as loud as what it stands beside."""

    row: Demonstration
    gain_db: float

    @property
    def address(self) -> str:
        return reverse("demonstration_audio", args=[self.row.pk])

    @property
    def from_s(self) -> float:
        return max(0.0, (self.row.from_s or 0.0) - BEFORE_S)

    @property
    def to_s(self) -> float:
        return (self.row.to_s or 3600.0) + AFTER_S


def shown(tones: Collection[Sounding]) -> dict[uuid.UUID, Shown]:
    """Of tones of one horn, those that a teacher has shown: by try. One query. Overtones are shown by nobody."""
    plain = [one for one in tones if one.row.partial is None]
    if not plain:
        return {}
    horn = plain[0].row.take.horn
    there = demonstrations.heard(
        horn.player.studio_id, horn.kind, [(one.row.written_midi, one.row.tone) for one in plain]
    )
    found = ((one, there.get((one.row.written_midi, one.row.tone))) for one in plain)
    return {one.row.pk: Shown(row, matching_db(one, row.level_db)) for one, row in found if row is not None}
