"""A student's copy moves between versions: an older one comes in whole, a newer one is refused before it loses any."""

from __future__ import annotations

import io
import json
import zipfile

import pytest

from assignments import import_
from assignments.models import Agenda, PrivateNote
from tests.unit.test_export import copy_of, emptied, horn, rows_of

__all__ = ["horn"]  # the fixture of a student with something in every table

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


def with_rows(copy: zipfile.ZipFile, whole: dict) -> io.BytesIO:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as changed:
        for name in copy.namelist():
            changed.writestr(name, json.dumps(whole) if name == "student.json" else copy.read(name))
    out.seek(0)
    return out


def test_a_copy_from_before_a_table_and_a_column_comes_in_without_them(horn):
    copy = copy_of(horn.player)
    whole = rows_of(copy)
    del whole["tables"]["agendas"]
    for row in whole["tables"]["private_notes"]:
        del row["at_s"]
    emptied()
    student = import_.read(with_rows(copy, whole))
    again = rows_of(copy_of(student))["tables"]
    assert not Agenda.objects.exists()
    assert {row.at_s for row in PrivateNote.objects.all()} == {None}
    assert again["tries"] == whole["tables"]["tries"]


@pytest.mark.parametrize("newer", [{"tunings": []}, {"horns": [{"colour": "brass"}]}], ids=["a table", "a column"])
def test_a_copy_that_holds_more_than_is_known_here_is_refused(horn, newer):
    copy = copy_of(horn.player)
    whole = rows_of(copy)
    whole["tables"] |= newer
    emptied()
    with pytest.raises(import_.ImportRefusedError, match="newer version"):
        import_.read(with_rows(copy, whole))
