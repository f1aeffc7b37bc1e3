"""Deleting a student: searched for afterwards in every table and every file."""

from __future__ import annotations

import time

import pytest
from axes.models import AccessAttempt
from django.contrib.admin.models import CHANGE, LogEntry
from django.core.management import call_command
from django.test import Client
from django.urls import reverse

from analysis import tasks
from assignments import belongings, erasure, keeping, settling, uploads
from assignments.models import Take
from studio.models import LogRow, Membership, Session, User
from tests import people
from tests.unit import belonging

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def horn(studio, teacher):
    """With a phone that is signed in, a draft on its way, a wrong passphrase once, and a change by support."""
    made = belonging.student(studio, teacher)
    user = made.player.user
    phone = Client()
    phone.force_login(user)
    phone.get(reverse("today"))
    uploads.append(user, made.pk, b"half a recording", 0, 100)
    Client().post(reverse("sign-in"), {"username": user.username, "password": "not-the-one"})
    LogEntry.objects.create(
        user=teacher, object_id=str(made.pk), object_repr=str(made), action_flag=CHANGE, change_message=""
    )
    return made


def words_of(horn) -> list[str]:
    """Names, words, and the key of every row that is the student's alone."""
    keys = [
        str(row.pk)
        for name, rows in belongings.of(horn.player).items()
        if name not in belongings.SHARED
        for row in rows
        if len(str(row.pk)) > 30
    ]
    user = horn.player.user
    home = User.objects.get(name=belonging.HOME)
    return [belonging.NAME, belonging.HOME, belonging.WORD, user.username, str(user.pk), str(home.pk), *keys]


def erase(horn, by, callbacks) -> None:
    with callbacks(execute=True):
        erasure.erase(horn.player, by=by)


def test_the_search_finds_everything_before(horn):
    found = belonging.found_in(words_of(horn))
    assert set(words_of(horn)) - found.keys() == set()
    tables = {table for hits in found.values() for table in hits}
    assert {"axes_accessattempt", "django_admin_log", "studio_session", "studio_pin", "studio_logrow"} <= tables
    assert len(list(keeping._stored())) == 4


def test_after_it_nothing_is_left_in_any_table_or_file_but_that_it_was_done(
    horn, teacher, tmp_path, django_capture_on_commit_callbacks
):
    words, key = words_of(horn), str(horn.player_id)
    began = time.monotonic()
    erase(horn, teacher, django_capture_on_commit_callbacks)
    assert time.monotonic() - began < 60
    assert belonging.found_in(words) == {key: ["studio_logrow"]}
    assert LogRow.objects.get(about_id=key).what == "erased"
    assert [path.name for path in tmp_path.rglob("*") if path.is_file()] == ["erased.txt"]
    assert erasure.list_file().read_text().split()[1:] == [key]
    assert AccessAttempt.objects.count() == LogEntry.objects.count() == 0


def test_another_student_of_the_same_studio_loses_nothing(horn, studio, teacher, django_capture_on_commit_callbacks):
    other = belonging.student(studio, teacher, "Ottilie Fenn", "Edda Fenn")
    before = {name: list(rows.values_list("pk", flat=True)) for name, rows in belongings.of(other.player).items()}
    files = len(list(keeping._stored()))
    erase(horn, teacher, django_capture_on_commit_callbacks)
    after = {name: list(rows.values_list("pk", flat=True)) for name, rows in belongings.of(other.player).items()}
    assert before == after
    assert len(list(keeping._stored())) == files - 4


def test_messages_that_are_still_queued_die_without_harm(horn, teacher, django_capture_on_commit_callbacks):
    waiting = Take.objects.get(horn=horn, analysis__state="queued").analysis_id
    erase(horn, teacher, django_capture_on_commit_callbacks)
    tasks.measure(str(waiting))
    settling.settle(waiting)
    assert not Take.objects.exists()


def test_whoever_is_signed_in_as_the_student_is_out_at_once(horn, teacher, django_capture_on_commit_callbacks):
    phone = Client()
    phone.force_login(horn.player.user)
    assert phone.get(reverse("today")).status_code == 200
    erase(horn, teacher, django_capture_on_commit_callbacks)
    assert phone.get(reverse("today")).url.startswith(reverse("sign-in"))
    assert not Session.objects.exists()


def test_an_account_that_has_a_place_elsewhere_stays(horn, teacher, django_capture_on_commit_callbacks):
    elsewhere = people.studio("Far Quay")
    Membership.objects.create(user=horn.player.user, studio=elsewhere, role="student")
    erase(horn, teacher, django_capture_on_commit_callbacks)
    assert User.objects.filter(name=belonging.NAME).exists()
    assert Membership.objects.filter(user__name=belonging.NAME).count() == 1


def test_a_guardian_of_another_child_stays_and_one_without_goes(
    horn, studio, teacher, django_capture_on_commit_callbacks
):
    home = horn.player.guardians.get()
    home.wards.add(people.horn(studio, "Ottilie Fenn").player)
    erase(horn, teacher, django_capture_on_commit_callbacks)
    assert [ward.user.name for ward in home.wards.all()] == ["Ottilie Fenn"]


def test_a_guardian_deletes_by_typing_the_name_and_reads_when_backups_forget(horn, django_capture_on_commit_callbacks):
    client = Client()
    client.force_login(User.objects.get(name=belonging.HOME))
    address = reverse("delete_everything", args=[horn.player_id])
    page = client.get(address).content.decode()
    assert "within 35 days" in page
    assert "account of a grown-up who has nobody else here goes with it" in page
    answer = client.post(address, {"name": "Somebody"})
    assert answer.status_code == 400
    assert "Nothing was deleted" in answer.content.decode()
    with django_capture_on_commit_callbacks(execute=True):
        answer = client.post(address, {"name": belonging.NAME.lower()})
    assert "Everything is deleted" in answer.content.decode()
    assert "35 days" in answer.content.decode()
    assert not User.objects.filter(name__in=[belonging.NAME, belonging.HOME]).exists()
    assert client.get(reverse("home")).url.startswith(reverse("sign-in"))


def test_before_deleting_a_copy_can_be_taken_and_one_can_go_back(horn, studio):
    address = reverse("delete_everything", args=[horn.player_id])
    owner = people.person("Orla Keel", studio, "owner").user
    for user, before in ((User.objects.get(name=belonging.HOME), "home_kept"), (owner, "person")):
        client = Client()
        client.force_login(user, backend="django.contrib.auth.backends.ModelBackend")
        page = client.get(address).content.decode()
        assert f'href="{reverse(before, args=[horn.player_id])}"' in page
        assert client.get(reverse(before, args=[horn.player_id])).status_code == 200
        assert f'action="{reverse("copy_of_everything", args=[horn.player_id])}"' in page


def test_of_the_staff_the_owner_alone_deletes(horn, studio, teacher):
    client = Client()
    client.force_login(teacher)
    address = reverse("delete_everything", args=[horn.player_id])
    assert client.post(address, {"name": belonging.NAME}).status_code == 404
    client.force_login(people.person("Orla Keel", studio, "owner").user)
    assert client.post(address, {"name": belonging.NAME}).status_code == 200
    assert not Membership.objects.filter(pk=horn.player_id).exists()


def test_a_backup_put_back_is_purged_of_whoever_was_deleted_since(
    horn, studio, teacher, django_capture_on_commit_callbacks, capsys
):
    key = horn.player_id
    erasure.list_file().write_text("2026-03-01T10:00:00Z 0b7c1f")  # the machine was switched off while it was written
    erase(horn, teacher, django_capture_on_commit_callbacks)
    stays = people.person("Ottilie Fenn", studio, "student")
    back = User.objects.create_user("back", name="Back again")
    Membership.objects.create(pk=key, user=back, studio=studio, role="student")
    call_command("erase_again")
    assert "1 deleted again" in capsys.readouterr().out
    assert not Membership.objects.filter(pk=key).exists()
    assert Membership.objects.filter(pk=stays.pk).exists()
