"""A copy of everything tells a family where none of the others live."""

from __future__ import annotations

import io
import zipfile

import pytest

from assignments import export
from studio.models import LogRow, Membership, User
from tests import people
from tests.unit import belonging
from tests.unit.test_export import horn, rows_of

__all__ = ["horn"]  # a fixture

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


def test_a_familys_copy_says_of_nobody_else_from_where_they_came(horn, teacher, studio):
    """Of parents who live apart neither learns where the other is."""
    guardian = User.objects.get(name=belonging.HOME)
    other = people.person("Bram Quillfeather", studio, Membership.Role.GUARDIAN)
    other.wards.add(horn.player)
    for who, address in ((guardian, "192.0.2.7"), (other.user, "192.0.2.8"), (teacher, "192.0.2.9")):
        LogRow.objects.create(studio=studio, who_id=who.pk, about_id=horn.player_id, what="exported", address=address)

    def addresses(by: User | None) -> set[str]:
        out = io.BytesIO()
        export.write(horn.player, out, by=by)
        log = rows_of(zipfile.ZipFile(out))["tables"]["log"]
        return {row["address"] for row in log} & every  # other rows are of where this test runs

    every = {"192.0.2.7", "192.0.2.8", "192.0.2.9"}
    assert (addresses(guardian), addresses(horn.player.user)) == ({"192.0.2.7"}, set())
    assert addresses(teacher) == addresses(None) == every
