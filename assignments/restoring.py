"""A backup brought back into an empty place. It is read through and found whole before a row is written."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from itertools import islice
from pathlib import Path
from typing import Any

from django.contrib.auth import get_user_model
from django.core import serializers
from django.core.files.base import File
from django.core.files.storage import default_storage
from django.core.management.color import no_style
from django.core.serializers.base import DeserializedObject
from django.db import connection, transaction
from django.db.models import Model
from django.utils.translation import gettext as _

from assignments import backups, erasure

AT_ONCE = 500  # rows in memory


class RestoreRefusedError(Exception):
    """It can't be restored here; the text says why. Nothing was written."""


def restore(folder: Path) -> tuple[dict[str, int], int]:
    """Bring the backup in ``folder`` into this database and this store, both empty and migrated.

    Returns how many rows of each table came back, and how many people were deleted again.
    Raises RestoreRefusedError for a backup that is damaged or of another release, and for a place that isn't empty.
    """
    whole = _whole(folder)
    if get_user_model().objects.exists():
        raise RestoreRefusedError(_("There are people here already. Restore into an empty database and data folder."))
    if whole["migrations"] != backups.migrations():
        raise RestoreRefusedError(
            _("This backup was made by another release. Restore it with that release, then bring it up to date.")
        )
    with ExitStack() as undo:
        for file in sorted((folder / "takes").glob("*/*")):
            undo.callback(default_storage.delete, _store(file, str(file.relative_to(folder / "takes"))))
        with transaction.atomic():
            counts = {model._meta.label_lower: _read_rows(model, folder) for model in backups.kept_models()}
            if counts != whole["rows"]:
                raise RestoreRefusedError(_("Not every row of this backup could be read. Nothing was brought in."))
        undo.pop_all()
    return counts, erasure.again(erasure.list_file())


def _whole(folder: Path) -> dict[str, Any]:
    """The backup's list, when every file that stands in it is as it was."""
    try:
        whole: dict[str, Any] = json.loads((folder / backups.MANIFEST).read_text("utf-8"))
        if whole["form"] != backups.FORM:
            raise RestoreRefusedError(_("This backup has a form that this version doesn’t read."))
        wrong = [name for name, sha256 in whole["sha256"].items() if backups.sha256_of(folder / name) != sha256]
    except (FileNotFoundError, ValueError, KeyError) as trouble:
        raise RestoreRefusedError(_("This is no whole backup: a part of it is missing.")) from trouble
    if wrong:
        raise RestoreRefusedError(_("This backup is damaged: %(file)s is not as it was.") % {"file": wrong[0]})
    return whole


def _store(file: Path, name: str) -> str:
    with file.open("rb") as sound:
        kept = default_storage.save(name, File(sound, name=name))
    if kept != name:
        default_storage.delete(kept)
        raise RestoreRefusedError(_("There are recordings here already. Restore into an empty data folder."))
    return kept


def _read_rows(model: type[Model], folder: Path) -> int:
    """Every row of one table, as it was: no ``save`` of ours, no date set anew."""
    count = 0
    with backups.rows_file(folder, model).open(encoding="utf-8") as lines:
        rows: Iterator[DeserializedObject] = serializers.deserialize("jsonl", lines)
        while some := list(islice(rows, AT_ONCE)):
            model._base_manager.bulk_create([one.object for one in some])
            for one in some:
                for name, others in (one.m2m_data or {}).items():
                    getattr(one.object, name).through._base_manager.bulk_create(_links(one.object, name, others))
            count += len(some)
    _count_on(model)
    return count


def _links(row: Model, name: str, others: Sequence[Any]) -> list[Model]:
    """The rows of a many-to-many table; those that they point to may come later in the same transaction."""
    field: Any = row._meta.get_field(name)
    through = field.remote_field.through
    ours, theirs = field.m2m_field_name() + "_id", field.m2m_reverse_field_name() + "_id"
    return [through(**{ours: row.pk, theirs: getattr(other, "pk", other)}) for other in others]


def _count_on(model: type[Model]) -> None:
    """PostgreSQL counts row numbers apart from the rows."""
    tables: list[Any] = [model, *(field.remote_field.through for field in model._meta.local_many_to_many)]
    with connection.cursor() as cursor:
        for statement in connection.ops.sequence_reset_sql(no_style(), tables):
            cursor.execute(statement)
