"""Recordings that have to go: in one transaction the row forgets its file and a note is made; then the file goes.

Whoever dies in between leaves the note, and the next round deletes the file.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable

from django.core.files.storage import default_storage
from django.db import transaction
from django.db.models import QuerySet

from analysis.models import Analysis, Discarded

log = logging.getLogger(__name__)

AT_ONCE = 1000  # notes in memory


@transaction.atomic
def discard(analyses: QuerySet[Analysis]) -> int:
    """Delete the recordings of ``analyses``; what was measured stays. Returns how many there were."""
    held = analyses.exclude(audio="")
    names = list(held.values_list("audio", flat=True))
    note(names)
    held.update(audio="")
    return len(names)


def note(names: Iterable[str]) -> None:
    """Have these files deleted once the transaction in hand has come through."""
    Discarded.objects.bulk_create([Discarded(name=name) for name in names], ignore_conflicts=True)
    transaction.on_commit(clear, robust=True)


def clear() -> int:
    """Delete every noted file that is still there. Returns how many notes were worked off.

    One that can't be deleted holds up no other; it keeps its note for the next round.
    """
    done, last = 0, 0
    while notes := list(Discarded.objects.filter(pk__gt=last).order_by("pk")[:AT_ONCE]):
        last = notes[-1].pk
        for one in notes:
            try:
                default_storage.delete(one.name)
            except Exception:  # each kind of store has its own; the log has the trace
                log.exception("a recording that has to go could not be deleted")
            else:
                one.delete()
                done += 1
    return done
