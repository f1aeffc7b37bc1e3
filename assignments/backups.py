"""A backup: every row as it stood at one instant, every recording, and a list with their checksums.

The form is the same on every database, so a backup of SQLite can be restored into PostgreSQL. Rows first, then
recordings: each row's recording was there, unless it has been deleted since.
"""

from __future__ import annotations

import contextlib
import datetime as dt
import hashlib
import json
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from django.apps import apps
from django.conf import settings
from django.contrib.contenttypes.models import ContentType
from django.core import serializers
from django.core.files.storage import default_storage
from django.core.serializers.json import DjangoJSONEncoder
from django.db import connection, transaction
from django.db.migrations.recorder import MigrationRecorder
from django.db.models import Model
from django.utils import timezone

from analysis.models import Analysis
from analysis.storage import flush

FORM = 1
MANIFEST = "manifest.json"
CHUNK_BYTES = 2**20
NAME = "%Y-%m-%dT%H%M%SZ"  # of a backup's folder
KEEP_DAYS = 35  # so long a backup remembers somebody who was deleted
# Made again by migrating, or worth nothing later: sign-ins and what hangs on them, counted guesses.
SIGN_INS = {"studio.session", "assignments.reminderdevice"}
LEFT_OUT = {"contenttypes", "auth.permission", "axes", "studio.codetry", *SIGN_INS}


class Exact(DjangoJSONEncoder):
    """Instants to the microsecond: the framework's own encoder keeps milliseconds."""

    def default(self, value: Any) -> Any:
        return value.isoformat() if isinstance(value, dt.datetime | dt.time) else super().default(value)


@dataclass(frozen=True, slots=True)
class Made:
    """One backup. ``gone``: recordings that were deleted while it was made; ``damaged``: whose sound is not as sent."""

    folder: Path
    rows: int
    recordings: int
    gone: tuple[str, ...]
    damaged: tuple[str, ...]


def make(into: Path, keep_days: int = KEEP_DAYS) -> Made:
    """Make a backup in a new folder of ``into`` and let those go that are older than ``keep_days``.

    A folder without its manifest is a backup that was broken off.

    :raises OSError: there is no room, or the folder cannot be written.
    """
    at = timezone.now().astimezone(dt.UTC)
    before = newest(into)
    folder = into / at.strftime(NAME)
    folder.mkdir(mode=0o700, parents=True)
    with one_instant():
        counts = {_label(model): _write_rows(model, folder) for model in kept_models()}
        recordings = dict(Analysis.objects.exclude(audio="").values_list("audio", "sha256"))
    gone, damaged = _copy_recordings(recordings, folder, before)
    _write_manifest(folder, at, counts, recordings.keys() - set(gone))
    _forget_old(into, at - dt.timedelta(days=keep_days))
    note_file().write_text(at.isoformat())
    return Made(folder, sum(counts.values()), len(recordings) - len(gone), gone, damaged)


def note_file() -> Path:
    """Where it is noted when the last backup of this machine was made."""
    return Path(settings.VAR) / "last_backup.txt"


def last_made_at() -> dt.datetime | None:
    return dt.datetime.fromisoformat(note_file().read_text()) if note_file().exists() else None


def newest(into: Path) -> Path | None:
    """The latest whole backup in this folder."""
    whole = sorted(file.parent for file in into.glob(f"*/{MANIFEST}"))
    return whole[-1] if whole else None


def kept_models() -> list[type[Model]]:
    """Every table that a backup holds; many-to-many ones go with their rows."""
    every = [model for model in apps.get_models() if model._meta.managed and not model._meta.proxy]
    return [model for model in every if not LEFT_OUT & {model._meta.app_label, model._meta.label_lower}]


def migrations() -> list[str]:
    """Which migrations the database has, as a backup names them."""
    return sorted("/".join(key) for key in MigrationRecorder(connection).applied_migrations())


def sha256_of(file: Path) -> str:
    with file.open("rb") as content:
        return hashlib.file_digest(content, "sha256").hexdigest()


@contextlib.contextmanager
def one_instant() -> Iterator[None]:
    """Everything that is read inside stood so at the same moment; nobody who writes waits for it."""
    if connection.vendor == "sqlite":  # Django's own transactions take the lock of writers
        with connection.cursor() as cursor:
            cursor.execute("BEGIN DEFERRED")
            try:
                yield
            finally:
                cursor.execute("ROLLBACK")
    else:
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("SET TRANSACTION ISOLATION LEVEL REPEATABLE READ, READ ONLY")
            yield


def _label(model: type[Model]) -> str:
    return model._meta.label_lower


def rows_file(folder: Path, model: type[Model]) -> Path:
    return folder / "rows" / f"{_label(model)}.jsonl"


def _write_rows(model: type[Model], folder: Path) -> int:
    file = rows_file(folder, model)
    file.parent.mkdir(mode=0o700, exist_ok=True)
    # Kinds of rows are numbered anew in another database, so they are named.
    named = any(field.related_model is ContentType for field in model._meta.fields)
    with file.open("w", encoding="utf-8") as out:
        rows = model._base_manager.order_by("pk")
        serializers.serialize("jsonl", rows.iterator(500), stream=out, use_natural_foreign_keys=named, cls=Exact)
    flush(file)
    with file.open("rb") as written:
        return sum(1 for _line in written)


def _copy_recordings(
    recordings: dict[str, str], folder: Path, before: Path | None
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """A recording never changes: what the last backup holds is shared with it, not copied again."""
    gone, damaged = [], []
    for name, sha256 in recordings.items():
        copy = folder / "takes" / name
        copy.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            whole = _is_shared(before, name, copy, sha256) or _is_copied(name, copy, sha256)
        except FileNotFoundError:
            gone.append(name)
            if Analysis.objects.filter(audio=name).exists():
                damaged.append(name)
            continue
        if not whole:
            damaged.append(name)
    return tuple(gone), tuple(damaged)


def _is_shared(before: Path | None, name: str, copy: Path, sha256: str) -> bool:
    """Whether the last backup's copy could be shared. One that rotted there is not, nor on a disk without links."""
    if before is None:
        return False
    try:
        os.link(before / "takes" / name, copy)
    except OSError:
        return False
    if sha256_of(copy) == sha256:
        return True
    copy.unlink()
    return False


def _is_copied(name: str, copy: Path, sha256: str) -> bool:
    """Copy it from the store. Whether it is as it was sent."""
    with default_storage.open(name) as stored, copy.open("wb") as out:
        shutil.copyfileobj(stored, out, CHUNK_BYTES)
    flush(copy)
    return sha256_of(copy) == sha256


def _write_manifest(folder: Path, at: dt.datetime, counts: dict[str, int], recordings: set[str]) -> None:
    """Last, and in one step: a backup that has it is whole."""
    files = sorted(file for part in ("rows", "takes") for file in (folder / part).rglob("*") if file.is_file())
    whole: dict[str, Any] = {
        "form": FORM,
        "made_at": at.isoformat(),
        "migrations": migrations(),
        "rows": counts,
        "recordings": len(recordings),
        "sha256": {str(file.relative_to(folder)): sha256_of(file) for file in files},
    }
    draft = folder / "manifest.draft"
    draft.write_text(json.dumps(whole, indent=1), encoding="utf-8")
    flush(draft)
    draft.rename(folder / MANIFEST)
    flush(folder)


def _forget_old(into: Path, before: dt.datetime) -> None:
    for folder in into.iterdir():
        with contextlib.suppress(ValueError):  # not a backup's name
            if dt.datetime.strptime(folder.name, NAME).replace(tzinfo=dt.UTC) < before:
                shutil.rmtree(folder)
