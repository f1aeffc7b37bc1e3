"""What came of it: every confirmed take looked for in the rows, in the store, and in what it counted."""

from __future__ import annotations

import hashlib
from collections import Counter
from dataclasses import dataclass
from typing import Any

from django.core.files.storage import default_storage
from django.db.models import Count, Sum

from analysis import custody
from analysis.models import Analysis, Result
from assignments.models import Opening, Take, Try
from assignments.queries import state
from studio.models import Studio
from tests.chaos.laid import Student
from tests.chaos.phones import Kind, Sent

POISON = (Kind.KILLS_DECODER, Kind.KILLS_WORKER)
ENDS = {
    Kind.TONE: Analysis.State.MEASURED,
    Kind.NO_SOUND: Analysis.State.REFUSED,
    Kind.KILLS_DECODER: Analysis.State.REFUSED,
    Kind.KILLS_WORKER: Analysis.State.FAILED,
}


@dataclass(frozen=True, slots=True)
class Tally:
    sent: int
    received: int
    measured: int
    refused: int  # no recording at all, or poison for the decoder: answered in words
    given_up: int  # poison for the worker
    lost: int
    counted_twice: int
    openings: int
    openings_wanted: int
    poisonous: int
    tried_too_often: int  # poison, and whatever was tried again without having lost a decoder or a worker
    not_shown: int  # given up, and the owner's page does not say so
    repeats: int  # sendings beyond the first

    @property
    def is_good(self) -> bool:
        whole = self.sent == self.received == self.measured + self.refused + self.given_up
        trouble = self.lost + self.counted_twice + self.tried_too_often + self.not_shown
        return whole and not trouble and self.openings == self.openings_wanted


def waiting() -> int:
    """Takes that are not settled yet."""
    return Take.objects.filter(settled_at=None).count()


def reached() -> tuple[int, int, int]:
    """Grows with every take that is received, taken in hand or settled."""
    claims = Analysis.objects.aggregate(n=Sum("claims"))["n"] or 0
    return Take.objects.count(), claims, Take.objects.exclude(settled_at=None).count()


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
        given_up=states[Analysis.State.FAILED],
        lost=sum(not _is_kept(one, takes.get(one.key)) for one in received),
        counted_twice=_counted_twice(received, takes),
        openings=sum(openings.values()),
        openings_wanted=len(students) if all(openings[one.horn] == 1 for one in students) else -1,
        poisonous=sum(one.kind in POISON for one in received),
        tried_too_often=sum(_is_tried_too_often(take.analysis) for take in takes.values()),
        not_shown=len(_given_up() - _shown()),
        repeats=sum(len(one.answers) - 1 for one in sent),
    )


def _is_kept(one: Sent, take: Take | None) -> bool:
    """The row is there and over, as its kind has it, came from what the phone sent, and its file is whole."""
    if take is None or take.settled_at is None or {str(take.pk)} != one.takes or take.n != 1:  # type: ignore[attr-defined]
        return False
    if take.analysis.state != ENDS[one.kind]:
        return False
    came_whole = take.analysis.sha256_as_sent == hashlib.sha256(one.audio).hexdigest()
    with default_storage.open(take.analysis.audio.name) as stored:
        return came_whole and hashlib.sha256(stored.read()).hexdigest() == take.analysis.sha256


def _is_tried_too_often(analysis: Analysis) -> bool:
    """Each try ends it, or costs a decoder or a worker; and of those no more than a few."""
    bounded = analysis.deaths <= custody.MOST_DEATHS and analysis.lost <= custody.MOST_LOST
    return not bounded or analysis.claims > 1 + analysis.deaths + analysis.lost


def _given_up() -> set[Any]:
    return set(Take.objects.filter(analysis__state=Analysis.State.FAILED).values_list("pk", flat=True))


def _shown() -> set[Any]:
    return {take.pk for studio in Studio.objects.all() for take in state.read(studio).given_up}


def _counted_twice(received: list[Sent], takes: dict[object, Take]) -> int:
    rows = [takes[one.key].pk for one in received if one.key in takes]
    tries = Try.objects.filter(take__in=rows).values("take").annotate(n=Count("pk")).filter(n__gt=1)
    results = Result.objects.filter(analysis__take__in=rows).values("analysis").annotate(n=Count("pk")).filter(n__gt=1)
    return tries.count() + results.count() + sum(len(one.takes) > 1 for one in received)
