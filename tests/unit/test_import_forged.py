"""A copy that somebody has written into: it brings in one student's own rows and nothing else, or nothing at all."""

from __future__ import annotations

import io
import json
import uuid
import zipfile
from collections.abc import Callable
from typing import Any

import pytest

from assignments import export, import_, import_bounds, keeping
from assignments.models import Comment, GateRule, Routine, Take
from studio.models import Horn, LogRow, Membership, Studio, User
from tests import builders, people
from tests.unit import belonging
from tests.unit.test_export import _right_hashes, emptied

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]

Tables = dict[str, list[dict[str, Any]]]


@pytest.fixture
def copy(studio, teacher) -> zipfile.ZipFile:
    horn = belonging.student(studio, teacher)
    _right_hashes()
    out = io.BytesIO()
    export.write(horn.player, out, by=None)
    emptied()
    return zipfile.ZipFile(out)


def forged(copy: zipfile.ZipFile, forge: Callable[[Tables], object]) -> io.BytesIO:
    """The same with other rows."""
    whole = json.loads(copy.read("student.json"))
    forge(whole["tables"])
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as other:
        other.writestr("student.json", json.dumps(whole))
        for name in whole["recordings"].values():
            other.writestr(name, copy.read(name))
    return out


def rows(copy: zipfile.ZipFile) -> Tables:
    tables: Tables = json.loads(copy.read("student.json"))["tables"]
    return tables


def refused(copy: zipfile.ZipFile, forge: Callable[[Tables], object]) -> None:
    stored, members = sorted(keeping._stored()), Membership.objects.count()
    with pytest.raises(import_.ImportRefusedError, match="no copy of a student, or it is damaged"):
        import_.read(forged(copy, forge))
    assert Membership.objects.count() == members
    assert sorted(keeping._stored()) == stored


def elsewhere() -> Horn:
    """A student of another studio, with a recording."""
    where = people.studio("Saltmarsh Studio")
    other = people.horn(where, "Ines Calder")
    builders.take(builders.week(other, people.teacher(where, "Odile Marsh").user), belonging.SOUND)
    return other


def test_nothing_of_it_hangs_on_a_recording_or_a_tone_of_another_student(copy):
    take = Take.objects.get(horn=elsewhere())
    refused(copy, lambda tables: tables["tries"][0].update(take_id=str(take.pk)))
    refused(copy, lambda tables: tables["takes"][0].update(exercise_id=str(take.exercise_id)))
    refused(copy, lambda tables: tables["milestones"][0].update(take_id=str(take.pk)))


@pytest.mark.parametrize("kind", ["demonstration", "take"])
def test_no_take_of_it_sounds_like_somebody_else(copy, kind):
    """The copy's own recording is left without a take, so that as many rows are there as it says."""
    other = elsewhere()
    foreign = Take.objects.get(horn=other).analysis_id
    if kind == "demonstration":
        foreign = builders.demonstration(other.studio).analysis_id

    def forge(tables: Tables) -> None:
        mine = tables["takes"][0]["analysis_id"]
        tables["takes"][0]["analysis_id"] = str(foreign)
        tables["results"][:] = [row for row in tables["results"] if row["analysis_id"] != mine]

    refused(copy, forge)


def test_it_changes_nothing_for_a_whole_studio_that_is_here(copy):
    other = elsewhere()
    strange = {"id": str(uuid.uuid4()), "studio_id": str(other.studio.pk)}
    for table in ("studio_rules", "routines", "ensembles"):
        refused(copy, lambda tables, table=table: tables[table].append({**tables[table][0], **strange}))
    refused(copy, lambda tables: tables["log"][0].update(studio_id=strange["studio_id"]))
    (rule,) = rows(copy)["studio_rules"]
    Studio.objects.create(pk=rule["studio_id"], name="The same quay", time_zone="Europe/Lisbon")

    def forge(tables: Tables) -> None:
        (before, *_others) = (row["id"] for row in tables["routines"])
        tables["routines"][0].update(id=strange["id"], studio_id=None)
        for week in tables["weeks"]:
            week["routine_id"] = strange["id"] if week["routine_id"] == before else week["routine_id"]

    student = import_.read(forged(copy, forge))
    assert not GateRule.objects.filter(horn=None).exists()
    assert not Routine.objects.filter(pk=strange["id"], studio=None).exists()
    assert GateRule.objects.filter(horn__player=student).count() == 1


def test_an_account_that_is_here_looks_after_nobody_by_a_copy(copy):
    stranger = elsewhere().player.user

    def forge(tables: Tables) -> None:
        tables["people"].append({**tables["people"][0], "id": str(stranger.pk)})
        place = {"id": str(uuid.uuid4()), "user_id": str(stranger.pk)}
        tables["guardians"].append({**tables["guardians"][0], **place})

    student = import_.read(forged(copy, forge))
    assert not student.guardians.filter(user=stranger).exists()
    assert student.guardians.count() == 1


@pytest.mark.parametrize("name", ["ab", "clock", ".draft-x", "a/b/c", "ab/" + "x" * 300])
def test_a_name_in_it_takes_no_place_in_the_store(copy, name):
    def forge(tables: Tables) -> None:
        next(row for row in tables["analyses"] if row["audio"])["audio"] = name

    import_.read(forged(copy, forge))
    assert all(len(kept.split("/")[0]) == 2 and len(kept) == 39 for kept in keeping._stored())


def test_it_unpacks_to_no_more_than_a_student_has(copy, monkeypatch):
    names = list(json.loads(copy.read("student.json"))["recordings"].values())
    bomb = io.BytesIO()
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as other:
        other.writestr("student.json", copy.read("student.json"))
        for name in names:
            other.writestr(name, bytes(10_000_000))
    with pytest.raises(import_.ImportRefusedError, match="no copy of a student"):
        import_.read(bomb)
    assert list(keeping._stored()) == []
    monkeypatch.setattr(import_bounds, "MOST_ROWS_BYTES", 1000)
    refused(copy, lambda tables: None)


@pytest.mark.parametrize(
    "text", ["[" * 100_000, "[]", '{"format": []}', '"half a letter: \\ud800"'], ids=["deep", "list", "bare", "half"]
)
def test_rows_of_no_form_at_all_are_refused_in_words(text):
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as other:
        other.writestr("student.json", text)
    with pytest.raises(import_.ImportRefusedError, match="no copy of a student"):
        import_.read(out)


def test_untouched_it_is_read(copy):
    assert import_.read(forged(copy, lambda tables: None)).role == Membership.Role.STUDENT


def test_it_makes_nobody_one_of_the_staff(copy):
    here = people.horn(people.studio("Saltmarsh Studio"), "Ines Calder").player
    place = {"user_id": str(here.user_id), "role": "owner", "id": str(uuid.uuid4())}
    refused(copy, lambda tables: tables["memberships"][0].update(role="owner"))
    refused(copy, lambda tables: tables["guardians"][0].update(role="owner"))
    refused(copy, lambda tables: tables["guardians"].append({**tables["guardians"][0], **place}))
    refused(copy, lambda tables: tables["memberships"].append({**tables["memberships"][0], **place}))
    refused(copy, lambda tables: tables["guardians"][0].update(studio_id=str(here.studio_id)))


def test_it_writes_nothing_about_another_student(copy):
    other: Horn = people.horn(people.studio("Saltmarsh Studio"), "Ines Calder")
    word = {"id": str(uuid.uuid4()), "horn_id": str(other.pk), "take_id": None, "about_try_id": None, "voice_id": None}
    refused(copy, lambda tables: tables["comments"].append({**tables["comments"][0], **word}))
    refused(copy, lambda tables: tables["log"].append({**tables["log"][0], "about_id": str(other.player_id)}))
    refused(
        copy,
        lambda tables: tables["horns"].append(
            {**tables["horns"][0], "id": word["id"], "player_id": str(other.player_id)}
        ),
    )
    assert not Comment.objects.exists()
    assert not LogRow.objects.exclude(what="consent_on_paper").exists()


@pytest.mark.parametrize(
    "forge",
    [
        lambda tables: tables["horns"][0].update(in_use_since_on="no day"),
        lambda tables: tables["horns"].clear(),
        lambda tables: tables["analyses"][0].update(audio="../../elsewhere"),
        lambda tables: tables["takes"].append(tables["takes"][0]),
    ],
    ids=["no day", "rows are missing", "a place outside of the store", "twice"],
)
def test_what_no_copy_says_is_refused_in_words(copy, forge):
    refused(copy, forge)
    assert not User.objects.exists()
