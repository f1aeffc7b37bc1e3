"""What a backup brings back is what was there: every row, every byte of sound, on either database."""

from __future__ import annotations

import datetime as dt
import json
import os
from pathlib import Path

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.base import CommandError
from django.utils import timezone

from analysis.models import Analysis
from assignments import backups, erasure, keeping, restoring
from studio import second_step
from studio.models import Membership, User
from tests import people
from tests.unit import belonging
from tests.unit.second_steps import digits, turned_on
from tests.unit.test_export import _right_hashes

pytestmark = [
    pytest.mark.django_db(transaction=True),
    pytest.mark.both_databases,
    pytest.mark.usefixtures("own_store", "no_notes"),
]


@pytest.fixture
def no_notes(tmp_path, settings):
    settings.VAR = tmp_path / "var"
    settings.VAR.mkdir()


@pytest.fixture
def student(studio, teacher):
    horn = belonging.student(studio, teacher)
    _right_hashes()
    return horn.player


def emptied() -> None:
    """Another installation: the tables as migrating leaves them, no files."""
    call_command("flush", interactive=False, verbosity=0)
    for name in list(keeping._stored()):
        default_storage.delete(name)


def everything() -> dict[str, list[tuple[object, ...]]]:
    """Every value of every row, as the database answers it."""
    return {m._meta.label: list(m._base_manager.order_by("pk").values_list()) for m in backups.kept_models()}


def checksums(folder: Path) -> dict[str, str]:
    found: dict[str, str] = json.loads((folder / backups.MANIFEST).read_text())["sha256"]
    return found


def test_a_restored_backup_is_the_same_to_the_last_byte(student, tmp_path):
    before = everything()
    made = backups.make(tmp_path / "backups")
    assert made.recordings > 0
    assert made.gone == made.damaged == ()
    emptied()
    assert not User.objects.exists()
    rows, erased = restoring.restore(made.folder)
    assert sum(rows.values()) == made.rows > 40
    assert erased == 0
    assert everything() == before
    again = backups.make(tmp_path / "again")
    assert checksums(again.folder) == checksums(made.folder)
    assert len(checksums(made.folder)) == made.recordings + len(backups.kept_models())


def test_a_phones_digits_open_after_a_restore_and_the_command_says_what_they_need(teacher, tmp_path, capsys):
    codes = turned_on(teacher)
    made = backups.make(tmp_path / "backups")
    emptied()
    call_command("restore", str(made.folder))
    assert "manage.py second_step_off --all" in capsys.readouterr().out
    assert second_step.opens(teacher, digits(teacher))
    assert second_step.opens(teacher, codes[0])


def test_rows_can_be_added_after_a_restore(student, tmp_path):
    made = backups.make(tmp_path)
    emptied()
    restoring.restore(made.folder)
    people.horn(Membership.objects.get(pk=student.pk).studio, "Wren Harrow")  # its log rows and numbers go on
    assert Membership.objects.filter(user__name="Wren Harrow").exists()


def test_every_table_is_in_a_backup_but_those_that_are_made_anew():
    from django.apps import apps

    missing = {model._meta.label_lower for model in apps.get_models()}
    missing -= {model._meta.label_lower for model in backups.kept_models()}
    assert {name for name in missing if not name.startswith("axes.")} == {
        "contenttypes.contenttype",
        "auth.permission",
        "studio.session",
        "studio.codetry",
        "assignments.reminderdevice",
    }


def test_whoever_was_deleted_since_is_deleted_again(student, tmp_path):
    made = backups.make(tmp_path)
    erasure.erase(student, by=None)
    emptied()
    _rows, erased = restoring.restore(made.folder)
    assert erased == 1
    assert not Membership.objects.filter(pk=student.pk).exists()


def test_a_second_backup_shares_what_has_not_changed(student, tmp_path, monkeypatch):
    first = backups.make(tmp_path)
    monkeypatch.setattr(backups, "NAME", "%Y-%m-%dT%H%M%SZ-again")
    second = backups.make(tmp_path)
    name = Analysis.objects.exclude(audio="").first().audio.name
    assert os.path.samefile(first.folder / "takes" / name, second.folder / "takes" / name)


@pytest.fixture
def twice(tmp_path, monkeypatch):
    """The first backup, and how the second is made within the same second."""
    first = backups.make(tmp_path)

    def second():
        monkeypatch.setattr(backups, "NAME", "%Y-%m-%dT%H%M%SZ-again")
        return backups.make(tmp_path)

    return first, second


def test_a_disk_that_shares_nothing_gets_whole_copies(student, twice, monkeypatch):
    first, second = twice

    def no_links(earlier, copy):
        raise PermissionError

    monkeypatch.setattr(os, "link", no_links)
    made = second()
    assert (made.recordings, made.damaged) == (first.recordings, ())
    assert takes_in(made) == takes_in(first)


def test_a_copy_that_rotted_in_the_last_backup_is_taken_from_the_store_again(student, twice):
    first, second = twice
    name = Analysis.objects.exclude(audio="").first().audio.name
    rotten = first.folder / "takes" / name
    rotten.chmod(0o600)
    rotten.write_bytes(b"rot")
    made = second()
    assert made.damaged == ()
    assert takes_in(made) == takes_in(first)
    assert rotten.read_bytes() == b"rot"  # the older one is left as it was found


def takes_in(made):
    """What the manifest says of recordings."""
    return {name: sha for name, sha in checksums(made.folder).items() if name.startswith("takes")}


def test_old_backups_are_forgotten_and_the_command_says_when(student, tmp_path, capsys):
    old = tmp_path / (timezone.now() - dt.timedelta(days=36)).strftime(backups.NAME)
    young = tmp_path / (timezone.now() - dt.timedelta(days=34)).strftime(backups.NAME)
    old.mkdir()
    young.mkdir()
    call_command("backup", str(tmp_path))
    assert not old.exists()
    assert young.exists()
    assert "gone from the backups after" in capsys.readouterr().out
    assert backups.last_made_at() is not None


def test_a_lost_recording_is_said_aloud(student, tmp_path):
    name = Analysis.objects.exclude(audio="").first().audio.name
    default_storage.delete(name)
    with pytest.raises(CommandError, match=f"missing or not as they were sent: {name}"):
        call_command("backup", str(tmp_path))


def test_a_recording_that_was_deleted_meanwhile_is_no_trouble(student, tmp_path, monkeypatch):
    is_copied = backups._is_copied

    def deleted_first(name, to, sha256):
        Analysis.objects.filter(audio=name).update(audio="")
        default_storage.delete(name)
        return is_copied(name, to, sha256)

    monkeypatch.setattr(backups, "_is_copied", deleted_first)
    made = backups.make(tmp_path)
    assert len(made.gone) > 0
    assert made.damaged == ()


@pytest.mark.parametrize("part", ["rows", "takes"])
def test_a_damaged_backup_brings_nothing_in(student, tmp_path, part):
    made = backups.make(tmp_path)
    emptied()
    file = max((f for f in (made.folder / part).rglob("*") if f.is_file()), key=lambda f: f.stat().st_size)
    file.chmod(0o600)
    file.write_bytes(file.read_bytes()[:-1])
    with pytest.raises(CommandError, match="damaged"):
        call_command("restore", str(made.folder))
    assert not User.objects.exists()
    assert list(keeping._stored()) == []


def test_nothing_is_restored_over_people(student, tmp_path):
    made = backups.make(tmp_path)
    with pytest.raises(CommandError, match="people here already"):
        call_command("restore", str(made.folder))


def test_a_backup_of_another_release_is_refused(student, tmp_path):
    made = backups.make(tmp_path)
    emptied()
    manifest = made.folder / backups.MANIFEST
    whole = json.loads(manifest.read_text())
    manifest.write_text(json.dumps({**whole, "migrations": whole["migrations"][:-1]}))
    with pytest.raises(CommandError, match="another release"):
        call_command("restore", str(made.folder))


def test_a_backup_that_broke_off_is_none(student, tmp_path):
    made = backups.make(tmp_path)
    (made.folder / backups.MANIFEST).unlink()
    assert backups.newest(tmp_path) is None
    with pytest.raises(restoring.RestoreRefusedError, match="no whole backup"):
        restoring.restore(made.folder)
