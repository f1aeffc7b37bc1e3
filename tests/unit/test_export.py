"""A copy of everything of one student: complete, open, and read again by another installation with nothing lost."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile

import pytest
from django.core.files.storage import default_storage
from django.core.management import call_command
from django.core.management.base import CommandError
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis, Result
from assignments import belongings, export, import_, keeping
from assignments.models import Comment, Take
from studio.models import LogRow, Membership, Studio, User
from tests import builders
from tests.unit import belonging

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def horn(studio, teacher):
    made = belonging.student(studio, teacher)
    _right_hashes()
    return made


def _right_hashes() -> None:
    """Rows made for tests have no hash of their sound."""
    for analysis in Analysis.objects.exclude(audio=""):
        with default_storage.open(str(analysis.audio.name)) as sound:
            Analysis.objects.filter(pk=analysis.pk).update(sha256=hashlib.sha256(sound.read()).hexdigest())


def copy_of(student) -> zipfile.ZipFile:
    out = io.BytesIO()
    export.write(student, out, by=None)
    return zipfile.ZipFile(out)


def rows_of(copy: zipfile.ZipFile) -> dict:
    return json.loads(copy.read("student.json"))


def emptied() -> None:
    """Another installation: no rows, no files."""
    Comment.objects.all().delete()
    Take.objects.all().delete()
    Analysis.objects.all().delete()
    LogRow.objects.all().delete()
    Studio.objects.all().delete()
    User.objects.all().delete()
    for name in list(keeping._stored()):
        default_storage.delete(name)


def test_every_table_that_leads_to_a_student_is_in_the_copy_or_left_out_for_a_reason(horn):
    copied = {rows.model.__name__ for rows in belongings.of(horn.player).values()}
    left_out = {
        "Pin": "a secret of this installation",
        "Reminder": "an address at home; where it is to be sent is chosen anew",
        "ReminderDevice": "a sign-in of this installation, and a secret between it and a browser",
        "Device": "a thing of this installation",
        "Invitation": "a code of this installation",
    }
    assert belonging.points_to_a_student() - copied == set(left_out)


def test_the_example_has_something_in_every_table(horn):
    assert [name for name, rows in belongings.of(horn.player).items() if not rows.exists()] == []


def test_what_is_brought_in_again_is_what_was_taken_out(horn):
    first = copy_of(horn.player)
    before = rows_of(first)
    emptied()
    student = import_.read(first.fp)
    second = copy_of(student)
    after = rows_of(second)
    assert before["tables"].keys() == after["tables"].keys()
    for table in before["tables"]:
        if table == "log":  # the second copy's log also says that it was brought in, and copied once more
            whats = [row["what"] for row in after["tables"]["log"]]
            assert after["tables"]["log"][: len(before["tables"]["log"])] == before["tables"]["log"]
            assert whats[len(before["tables"]["log"]) :] == ["imported", "exported"]
            continue
        stored = [{**row, "audio": bool(row.get("audio"))} for row in before["tables"][table]]
        assert [{**row, "audio": bool(row.get("audio"))} for row in after["tables"][table]] == stored, table
    assert before["recordings"] == after["recordings"]
    for name in before["recordings"].values():
        assert first.read(name) == second.read(name)
    tables = [name for name in first.namelist() if name.startswith(export.NUMBERS)]
    assert len(tables) == 7
    for name in tables:
        assert first.read(name) == second.read(name), name


def test_whoever_is_brought_in_comes_in_by_a_code_alone(horn, studio):
    copy = copy_of(horn.player)
    emptied()
    import_.read(copy.fp)
    student = User.objects.get(name=belonging.NAME)
    assert student.is_active
    assert not any(user.has_usable_password() or user.is_staff for user in User.objects.all())
    others = User.objects.exclude(pk=student.pk)
    assert others.exists()
    assert not others.filter(is_active=True).exists()
    assert student.memberships.get().guardians.get().user.name == belonging.HOME


def test_no_secret_is_in_the_copy(horn):
    text = copy_of(horn.player).read("student.json").decode()
    for word in ("password", "argon2", "md5$", "digits_hash", "code_hash", "session", "email"):
        assert word not in text


def test_another_students_rows_are_not_in_it(horn, studio, teacher):
    other = belonging.student(studio, teacher, "Ottilie Fenn", "Edda Fenn")
    text = copy_of(horn.player).read("student.json").decode()
    assert str(other.pk) not in text
    assert "Fenn" not in text


def test_a_studio_that_is_there_already_stays_as_it_is(horn, studio):
    copy = copy_of(horn.player)
    emptied()
    kept = Studio.objects.create(pk=studio.pk, name="The same quay, renamed", time_zone="Europe/Lisbon")
    import_.read(copy.fp)
    kept.refresh_from_db()
    assert kept.name == "The same quay, renamed"


def test_who_is_here_already_is_not_brought_in_twice(horn):
    with pytest.raises(import_.ImportRefusedError, match="here already"):
        import_.read(copy_of(horn.player).fp)


def test_a_taken_name_is_said_and_another_may_be_given(horn, studio):
    copy = copy_of(horn.player)
    emptied()
    User.objects.create_user("zephyrine", name="Another")
    with pytest.raises(import_.ImportRefusedError, match="--username"):
        import_.read(copy.fp)
    student = import_.read(copy.fp, username="zephyrine-q")
    assert student.user.username == "zephyrine-q"


def test_a_damaged_recording_brings_nothing_in(horn):
    good = copy_of(horn.player)
    whole = rows_of(good)
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as bad:
        bad.writestr("student.json", json.dumps(whole))
        for name in whole["recordings"].values():
            bad.writestr(name, b"something else")
    emptied()
    with pytest.raises(import_.ImportRefusedError, match="damaged"):
        import_.read(out)
    assert not Membership.objects.exists()
    assert list(keeping._stored()) == []


@pytest.mark.parametrize("content", [b"", b"no zip", b"PK\x05\x06" + bytes(18)], ids=["empty", "no zip", "empty zip"])
def test_what_is_no_copy_is_refused_in_words(content):
    with pytest.raises(import_.ImportRefusedError, match="no copy of a student"):
        import_.read(io.BytesIO(content))


def test_the_copy_says_of_itself_what_is_in_it(horn):
    copy = copy_of(horn.player)
    readme = copy.read("README.txt").decode()
    for table in rows_of(copy)["tables"]:
        assert f"\n{table}  " in readme
    for file in ("student.json", "numbers/", "recordings/"):
        assert file in readme


def test_the_table_of_numbers_has_a_line_a_tone_and_every_number_of_the_report(horn):
    lines = list(csv.DictReader(io.StringIO(copy_of(horn.player).read("numbers/tones.csv").decode())))
    measured = [line for line in lines if line["index"]]
    reports = [tone for result in Result.objects.all() for tone in result.report["tones"]]
    assert len(measured) == len(reports) == 2
    assert {line["outcome"] for line in measured} == {"hit"}
    tone = next(one for one in reports if one["written_midi"] == 60)
    line = next(one for one in measured if one["written_midi"] == "60")
    for name, value in tone.items():
        if isinstance(value, float):
            assert float(line[name]) == value, name
    for group in ("attack", "release", "vibrato", "colour", "noise"):
        for name, value in tone[group].items():
            if isinstance(value, float):
                assert float(line[f"{group}.{name}"]) == value, (group, name)


def test_the_family_and_the_staff_take_a_copy_and_it_is_written_down(horn, teacher, studio):
    guardian = User.objects.get(name=belonging.HOME)
    for somebody in (guardian, teacher):
        client = Client()
        client.force_login(somebody)
        answer = client.post(reverse("copy_of_everything", args=[horn.player_id]))
        assert answer["Content-Type"] == "application/zip"
        assert "attachment" in answer["Content-Disposition"]
        whole = zipfile.ZipFile(io.BytesIO(b"".join(answer.streaming_content)))
        assert whole.testzip() is None
        tables = client.get(reverse("numbers", args=[horn.player_id]))
        assert zipfile.ZipFile(io.BytesIO(b"".join(tables.streaming_content))).testzip() is None
    taken = LogRow.objects.filter(what="exported", about_id=horn.player_id).values_list("who_id", flat=True)
    assert sorted(taken) == sorted([guardian.pk, teacher.pk] * 2)


def test_the_two_commands_go_there_and_back(horn, tmp_path, capsys):
    file = tmp_path / "copy.zip"
    call_command("export_student", "zephyrine", str(file))
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_student", "zephyrine", str(file))
    with pytest.raises(CommandError, match="0 students"):
        call_command("export_student", "nobody", str(tmp_path / "other.zip"))
    emptied()
    call_command("import_student", str(file))
    assert f"{belonging.NAME} is here" in capsys.readouterr().out
    with pytest.raises(CommandError, match="here already"):
        call_command("import_student", str(file))


def test_a_recording_that_waits_to_be_measured_waits_again_where_it_is_brought_in(horn, studio, teacher, empty_queue):
    Analysis.objects.filter(state="queued").update(state="running")
    copy = copy_of(horn.player)
    emptied()
    import_.read(copy.fp)
    assert Analysis.objects.filter(state="queued").count() == 1
    assert not builders.daily(Take.objects.order_by("received_at").last().exercise.week).takes.filter(
        analysis__state="running"
    )
