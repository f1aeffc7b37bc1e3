"""A copy of everything of one student in one file, in an open form that says of itself how it is read.

``student.json`` holds the rows, ``recordings/`` the sound as it is kept, ``numbers/`` the measurements as tables, and
``README.txt`` what all of it means. ``assignments.import_`` reads it again with nothing lost.
"""

from __future__ import annotations

import base64
import datetime as dt
import json
from collections.abc import Iterator
from pathlib import Path
from typing import IO, Any
from uuid import UUID
from zipfile import ZIP_DEFLATED, ZIP_STORED, ZipFile, ZipInfo

from django.core.files.storage import default_storage
from django.db.models import AutoField, Field, Model
from django.db.models.fields.files import FieldFile
from django.utils import timezone

from analysis.models import Analysis
from assignments import belongings, number_tables
from assignments.kinds_of_sound import ending
from studio import access_log
from studio.access import STAFF, memberships
from studio.models import Membership, User

FORMAT = "footing-student"
VERSION = 1
NUMBERS = "numbers/"  # the folder of the tables
README = Path(__file__).parent / "data" / "export_readme.txt"
SECRET = {"password", "last_login", "is_superuser", "is_staff", "is_active", "email"}  # of people: never copied
PASSING = {"token", "lease_until", "sent_at"}  # of a recording being measured just now
CHUNK_BYTES = 1024 * 1024


def write(student: Membership, out: IO[bytes], *, by: User | None) -> None:
    """Write the zip into ``out``, and into the log that it was taken.

    From where somebody else came tells where they live: staff read that, a family reads it of none but ``by``.
    """
    access_log.write(access_log.What.EXPORTED, studio=student.studio, who=by, about=student)
    with ZipFile(out, "w", ZIP_DEFLATED, allowZip64=True) as copy:
        tables = {name: [plain(row) for row in rows.iterator()] for name, rows in belongings.of(student).items()}
        if by is not None and not memberships(by, STAFF).filter(studio=student.studio_id).exists():
            tables["log"] = [row if row["who_id"] == str(by.pk) else {**row, "address": None} for row in tables["log"]]
        recordings = dict(_recordings(student, copy))
        made = {"format": FORMAT, "version": VERSION, "made_at": timezone.now().isoformat()}
        whole = {**made, "student": str(student.pk), "recordings": recordings, "tables": tables}
        copy.writestr("student.json", json.dumps(whole, ensure_ascii=False, indent=1, allow_nan=False))
        copy.writestr("README.txt", README.read_text("utf-8"))
        number_tables.put(student, copy, NUMBERS)


def plain(row: Model) -> dict[str, Any]:
    """One row as JSON values, by the names of its columns."""
    return {field.attname: _plain(field, row) for field in fields(type(row))}


def fields(model: type[Model]) -> list[Field[Any, Any]]:
    """The columns that go into a copy."""
    left_out = SECRET if model is User else PASSING if model is Analysis else set()
    return [
        field
        for field in model._meta.concrete_fields
        if field.name not in left_out and not isinstance(field, AutoField)  # a number of this database alone
    ]


def _plain(field: Field[Any, Any], row: Model) -> Any:
    value = field.value_from_object(row)
    if isinstance(value, FieldFile):
        return value.name or ""
    if isinstance(value, UUID):
        return str(value)
    if isinstance(value, dt.date | dt.time):  # and instants, with every microsecond
        return value.isoformat()
    if isinstance(value, bytes | memoryview):
        return base64.b64encode(bytes(value)).decode("ascii")
    return value


def _recordings(student: Membership, copy: ZipFile) -> Iterator[tuple[str, str]]:
    """Copy the sound that is kept. Gives each recording's id and the name it has in the file."""
    kept = belongings.recordings(student).exclude(audio="").select_related("take", "comment")
    for analysis in kept.order_by("created_at", "pk").iterator():
        with default_storage.open(str(analysis.audio.name)) as stored:
            head = stored.read(16)
            on = student.studio.day_of(analysis.comment.made_at) if analysis.spoken else analysis.take.on
            name = f"recordings/{on}/{analysis.pk}.{ending(head)}"
            with copy.open(_stored(name), "w", force_zip64=True) as file:
                file.write(head)
                while chunk := stored.read(CHUNK_BYTES):
                    file.write(chunk)
        yield str(analysis.pk), name


def _stored(name: str) -> ZipInfo:
    """Sound is packed already: packing it again would cost time and save nothing."""
    info = ZipInfo(name, timezone.now().timetuple()[:6])
    info.compress_type = ZIP_STORED
    return info
