"""What a copy may bring in: one student's rows, that point to each other and to nothing of anybody else's, in bounds of
size. It may have been in anybody's hands.
"""

from __future__ import annotations

import json
import os
from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import IO, Any
from zipfile import ZipFile

from django.db.models import Model

from assignments import belongings
from assignments.recordings import MOST_BYTES
from studio.models import Membership, User

MOST_ROWS_BYTES = 500_000_000  # a student who plays every day for ten years has a third of that
MOST_UNPACKED = 10  # times the file: sound is packed already

Tables = Mapping[str, Sequence[Mapping[str, Any]]]


def rows(copy: ZipFile) -> dict[str, Any]:
    """What stands in ``student.json``. Raises ValueError where it unpacks to more than any student has."""
    if copy.getinfo("student.json").file_size > MOST_ROWS_BYTES:
        raise ValueError("student.json")
    whole: dict[str, Any] = json.loads(copy.read("student.json"))
    return whole


def look_at_sizes(file: IO[bytes], copy: ZipFile, recordings: Mapping[str, str]) -> None:
    """Raises ValueError where a recording is larger than any that is taken here, is meant for two rows, or where all of
    them unpack to far more than came."""
    sizes = [copy.getinfo(name).file_size for name in set(recordings.values())]
    came = file.seek(0, os.SEEK_END)
    if len(sizes) != len(recordings) or max(sizes, default=0) > MOST_BYTES or sum(sizes) > MOST_UNPACKED * came:
        raise ValueError("recordings")


def look_where_they_point(tables: Tables, models: Mapping[str, type[Model]]) -> None:
    """Raises ValueError where a row belongs to another one that the copy doesn't hold: to another student's recording,
    another studio. Who set or said something is somebody of the copy, or of this place. At home nobody is staff.
    """
    if any(row["role"] != Membership.Role.GUARDIAN for row in tables["guardians"]):
        raise ValueError("guardians")
    here: defaultdict[type[Model], set[str]] = defaultdict(set)
    for table, held in tables.items():
        here[models[table]] |= {str(row.get("id")) for row in held}
    for table, held in tables.items():
        for field in models[table]._meta.concrete_fields:
            to = field.related_model
            ids = {str(row[field.attname]) for row in held if row.get(field.attname) is not None}
            if field.is_relation and to is not User and not ids <= here[to]:  # type: ignore[index]  # never "self"
                raise ValueError(f"{table}.{field.name}")


def look_whose_they_are(student: Membership, tables: Tables, written: Mapping[str, set[Any]]) -> None:
    """Raises ValueError where what was written is not this student's. ``written``: the keys of new rows, by table."""
    for table, found in belongings.of(student).items():
        keys = set(found.values_list("pk", flat=True))
        alone = table not in belongings.SHARED and table != "guardians"
        if alone and (len(keys) != len(tables.get(table, ())) or not written[table] <= keys):
            raise ValueError(table)
        if not alone and table != "people" and not written[table] <= keys:
            raise ValueError(table)
    if student.role != Membership.Role.STUDENT or _of_elsewhere(student):
        raise ValueError("memberships")


def _of_elsewhere(student: Membership) -> bool:
    """Whether the student came to play, sit or be looked after in a studio that isn't the student's."""
    theirs, studio = belongings.of(student), student.studio_id
    elsewhere = (
        theirs["guardians"].exclude(role=Membership.Role.GUARDIAN, studio=studio),
        theirs["ensembles"].exclude(studio=studio),
        theirs["chords"].exclude(ensemble__studio=studio),
        theirs["routines"].exclude(studio=studio).exclude(studio=None),
        theirs["log"].exclude(studio=studio),
    )
    return any(rows.exists() for rows in elsewhere)
