"""What a release is made of: all of it is pinned by its hashes, and the bill of materials names all of it."""

from __future__ import annotations

import importlib.metadata
import json
import re

import pytest
from packaging.requirements import Requirement

from tests import bill
from tests.unit.test_house import ROOT

LOCKED = bill.locked(bill.LOCK.read_text())
ASKED = [
    Requirement(line.split("  #")[0])
    for line in (ROOT / "requirements.txt").read_text().splitlines()
    if not line.startswith("#")
]


def plain(name: str) -> str:
    return re.sub(r"[-_.]+", "-", name).lower()


def brought_along(asked: list[Requirement]) -> set[str]:
    """The names of everything that is installed for these, as its own metadata says."""
    found: set[str] = set()
    left = [(one, "") for one in asked]
    while left:
        one, extra = left.pop()
        if one.marker and not one.marker.evaluate({"extra": extra}):
            continue
        found.add(plain(one.name))
        needs = [Requirement(line) for line in importlib.metadata.requires(one.name) or ()]
        for of in ("", *sorted(one.extras)):
            left += [(need, of) for need in needs if plain(need.name) not in found and not (of and not need.marker)]
    return found


def test_every_requirement_is_locked_in_the_version_that_is_asked_for() -> None:
    versions = {plain(name): version for name, version in LOCKED}
    assert len(ASKED) > 20
    assert {one.name for one in ASKED if not one.specifier.contains(versions[plain(one.name)])} == set()


def test_what_they_bring_along_is_locked_too_and_each_by_the_hashes_of_its_files() -> None:
    needed = brought_along(ASKED)
    assert {"kombu", "numba", "psycopg-binary", "botocore"} <= needed
    assert needed - {plain(name) for name, _ in LOCKED} == set()
    assert [pin for pin, hashes in LOCKED.items() if not hashes] == []


def test_the_bill_keeps_to_its_schema_and_names_every_package_with_its_version_and_hashes() -> None:
    written = json.loads(bill.bill(LOCKED))
    assert (written["bomFormat"], written["specVersion"]) == ("CycloneDX", "1.6")
    told = {(one["name"], one["version"]): {h["content"] for h in one["hashes"]} for one in written["components"]}
    assert told == {pin: set(hashes) for pin, hashes in LOCKED.items()}
    assert next(one["purl"] for one in written["components"] if one["name"] == "django").startswith("pkg:pypi/django@")


def test_a_package_that_could_be_any_file_is_not_billed() -> None:
    with pytest.raises(ValueError, match=r"tone 1\.0 has no hash"):
        bill.bill(bill.locked("tone==1.0\n    # via -r requirements.txt\n"))
