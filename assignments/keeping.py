"""How long things are kept: recordings as long as the studio says, drafts and files without a row hardly at all."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from django.core.files.storage import default_storage
from django.utils import timezone

from analysis import discarding
from analysis.models import Analysis
from assignments import uploads
from assignments.models import Take
from studio.models import Studio

ORPHAN_AFTER = dt.timedelta(days=1)  # a file this old whose row never came
AT_ONCE = 1000  # recordings of one studio an hour's round


def tidy() -> dict[str, int]:
    """Delete what has had its time. The numbers that were measured stay."""
    return {
        "recordings": sum(_delete_old_recordings(studio) for studio in Studio.objects.all()),
        "drafts": uploads.forget_abandoned(),
        "orphans": _delete_orphans(),
    }


def _delete_old_recordings(studio: Studio) -> int:
    last_kept = studio.today() - dt.timedelta(days=studio.keep_takes_days)
    old = Take.objects.filter(horn__player__studio=studio, on__lt=last_kept).exclude(analysis__audio="")
    return discarding.discard(Analysis.objects.filter(pk__in=list(old.values_list("analysis", flat=True)[:AT_ONCE])))


def _delete_orphans() -> int:
    gone = 0
    for name in _stored():
        if timezone.now() - default_storage.get_modified_time(name) < ORPHAN_AFTER:
            continue
        if not Analysis.objects.filter(audio=name).exists():
            default_storage.delete(name)
            gone += 1
    return gone


def _stored() -> Iterator[str]:
    """Every stored recording; they lie in folders of two characters."""
    folders, _files = default_storage.listdir("")
    for folder in folders:
        for file in default_storage.listdir(folder)[1]:
            yield f"{folder}/{file}"
