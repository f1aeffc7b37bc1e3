"""What came of it: every confirmed take looked for in the rows, in the store, and in what it counted."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass

from django.core.files.storage import default_storage
from django.db.models import Count

from analysis.models import Analysis, Result
from assignments.models import Opening, Take, Try
from tests.chaos.laid import Student
from tests.chaos.phones import Sent


@dataclass(frozen=True, slots=True)
class Tally:
    sent: int
    received: int
    measured: int
    refused: int  # no recording at all, answered in words
    failed: int  # given up
    lost: int
    counted_twice: int
    openings: int
    openings_wanted: int
    repeats: int  # sendings beyond the first

    @property
    def is_good(self) -> bool:
        whole = self.sent == self.received == self.measured + self.refused
        return whole and not self.lost and not self.counted_twice and self.openings == self.openings_wanted


def waiting() -> int:
    """Takes that are not settled yet."""
    return Take.objects.filter(settled_at=None).count()


def count(sent: list[Sent], students: list[Student]) -> Tally:
    received = [one for one in sent if one.takes]
    takes = {take.client_key: take for take in Take.objects.select_related("analysis").annotate(n=Count("tries"))}
    states = Counter(takes[one.key].analysis.state for one in received if one.key in takes)
    openings = Counter(Opening.objects.values_list("horn", flat=True))
    return Tally(
        sent=len(sent),
        received=len(received),
        measured=states[Analysis.State.MEASURED],
        refused=states[Analysis.State.REFUSED],
        failed=states[Analysis.State.FAILED],
        lost=sum(not _is_kept(one, takes.get(one.key)) for one in received),
        counted_twice=_counted_twice(received, takes),
        openings=sum(openings.values()),
        openings_wanted=len(students) if all(openings[one.horn] == 1 for one in students) else -1,
        repeats=sum(len(one.answers) - 1 for one in sent),
    )


def _is_kept(one: Sent, take: Take | None) -> bool:
    """The row is there and over, has a result where there was sound, and its file holds what the phone sent."""
    if take is None or take.settled_at is None or {str(take.pk)} != one.takes or take.n != 1:  # type: ignore[attr-defined]
        return False
    state = take.analysis.state
    if state != (Analysis.State.MEASURED if one.is_sound else Analysis.State.REFUSED):
        return False
    with default_storage.open(take.analysis.audio.name) as stored:
        return hashlib.sha256(stored.read()).digest() == hashlib.sha256(one.audio).digest()


def _counted_twice(received: list[Sent], takes: dict[object, Take]) -> int:
    rows = [takes[one.key].pk for one in received if one.key in takes]
    tries = Try.objects.filter(take__in=rows).values("take").annotate(n=Count("pk")).filter(n__gt=1)
    results = Result.objects.filter(analysis__take__in=rows).values("analysis").annotate(n=Count("pk")).filter(n__gt=1)
    return tries.count() + results.count() + sum(len(one.takes) > 1 for one in received)
