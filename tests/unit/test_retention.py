"""Recordings go when their time is over: as the house says, and no later than the family agreed to; numbers stay."""

from __future__ import annotations

import datetime as dt
import os
import time
from pathlib import Path

import pytest
import time_machine
from axes.models import AccessAttempt
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage
from django.test import Client
from django.urls import reverse

from analysis.models import Analysis, Result
from assignments import keeping, milestones
from assignments.models import Milestone, Try
from assignments.refusals import Refusal
from studio import consent, invitations
from studio.invitations import Whom
from studio.models import CodeTry, Invitation, LogRow, Membership, Session, Studio
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases, pytest.mark.usefixtures("own_store")]


@pytest.fixture
def horn(studio):
    return people.horn(studio)


@pytest.fixture
def played_on(studio, horn, teacher):
    """Tries of recordings made so many days ago."""
    week = played.long_week(horn, teacher)
    return {ago: played.day(week, studio.today() - dt.timedelta(days=ago), [(60, "mf")])[0] for ago in (0, 59, 60, 61)}


def tidy(callbacks) -> dict[str, int]:
    with callbacks(execute=True):
        return keeping.tidy()


def at_noon(day: dt.date):
    """Summer time moves midnight: an hour before it, so many days on is a day more."""
    return time_machine.travel(dt.datetime.combine(day, dt.time(12), dt.UTC))


def kept(played_on) -> set[int]:
    """Days ago of the recordings that are there, as rows and as files."""
    rows = {ago for ago, tried in played_on.items() if Analysis.objects.get(take=tried.take).audio}
    files = {ago for ago, tried in played_on.items() if default_storage.exists(tried.take.analysis.audio.name)}
    assert rows == files
    return rows


def test_after_sixty_days_the_sound_is_gone_from_the_store_and_the_numbers_are_there(
    played_on, django_capture_on_commit_callbacks
):
    assert tidy(django_capture_on_commit_callbacks)["recordings"] == 1
    assert kept(played_on) == {0, 59, 60}
    assert Try.objects.count() == Result.objects.count() == 4
    assert tidy(django_capture_on_commit_callbacks)["recordings"] == 0


def test_a_page_about_a_deleted_recording_says_why_there_is_no_sound(
    client, horn, played_on, django_capture_on_commit_callbacks
):
    tidy(django_capture_on_commit_callbacks)
    client.force_login(horn.player.user)
    page = client.get(reverse("one_tone", args=[played_on[61].pk])).content.decode()
    assert "The sound was deleted when its time was over" in page
    assert client.get(reverse("take_audio", args=[played_on[61].take_id])).status_code == 404


def test_fewer_days_count_at_once(studio, played_on, django_capture_on_commit_callbacks):
    studio.keep_takes_days = 7
    studio.save()
    tidy(django_capture_on_commit_callbacks)
    assert kept(played_on) == {0}


def test_more_days_than_were_agreed_to_do_not_count(studio, horn, played_on, django_capture_on_commit_callbacks):
    studio.keep_takes_days = 180
    studio.save()
    horn.player.studio.refresh_from_db()
    assert consent.keep_days(horn.player) == 60
    tidy(django_capture_on_commit_callbacks)
    assert kept(played_on) == {0, 59, 60}


def test_who_agrees_after_the_change_agrees_to_it(studio, horn, teacher, played_on, django_capture_on_commit_callbacks):
    studio.keep_takes_days = 180
    studio.save()
    horn.player.studio.refresh_from_db()
    consent.give(student=horn.player, given_by="Jo Larkspur", how="screen", logged_by=teacher)
    tidy(django_capture_on_commit_callbacks)
    assert kept(played_on) == {0, 59, 60, 61}


def test_a_milestone_stays_for_a_year_and_then_goes_too(played_on, teacher, studio, django_capture_on_commit_callbacks):
    old = played_on[61].take
    milestones.keep(old, by=teacher)
    tidy(django_capture_on_commit_callbacks)
    assert 61 in kept(played_on)
    with at_noon(studio.today() + dt.timedelta(days=365 - 61)):
        tidy(django_capture_on_commit_callbacks)
        assert kept(played_on) == {61}
    with at_noon(studio.today() + dt.timedelta(days=366 - 61)):
        tidy(django_capture_on_commit_callbacks)
        assert kept(played_on) == set()


def test_a_milestone_let_go_goes_by_age(client, played_on, teacher, django_capture_on_commit_callbacks):
    client.force_login(teacher)
    address = reverse("milestone", args=[played_on[61].take_id])
    assert client.post(address).status_code == 302
    page = client.get(reverse("take", args=[played_on[61].take_id])).content.decode()
    assert "A milestone, kept until" in page
    client.post(address, {"what": "let_go"})
    tidy(django_capture_on_commit_callbacks)
    assert 61 not in kept(played_on)


def test_the_family_sees_a_milestone_and_may_let_it_go(
    client, studio, horn, played_on, teacher, django_capture_on_commit_callbacks
):
    made = milestones.keep(played_on[61].take, by=teacher)
    other = people.horn(studio, "Ottilie Fenn")
    for name, ward in (("Edda Fenn", other.player), ("Jo Larkspur", horn.player)):
        people.person(name, studio, people.Role.GUARDIAN).wards.add(ward)
        client.force_login(ward.guardians.get().user)
        client.post(reverse("home_kept", args=[ward.pk]), {"milestone": "no number"})
        if ward == horn.player:
            assert "Let it go by age" in client.get(reverse("home_kept", args=[ward.pk])).content.decode()
        client.post(reverse("home_kept", args=[ward.pk]), {"milestone": str(made.pk)})
        assert Milestone.objects.exists() == (ward == other.player)  # nobody ends what is another family's
    tidy(django_capture_on_commit_callbacks)
    assert 61 not in kept(played_on)


def test_the_student_reads_on_a_take_that_it_is_kept(client, horn, played_on, teacher):
    made = milestones.keep(played_on[61].take, by=teacher)
    client.force_login(horn.player.user)
    page = client.get(reverse("take", args=[made.take_id])).content.decode()
    assert "A milestone, kept until" in page
    assert "Let it go" not in page


def test_there_are_few_milestones_and_none_without_sound(client, horn, studio, teacher):
    day = played.day(played.long_week(horn, teacher), studio.today(), [(note, "mf") for note in range(60, 73)])
    for tried in day[: milestones.MOST]:
        milestones.keep(tried.take, by=teacher)
        milestones.keep(tried.take, by=teacher)  # twice is once
    with pytest.raises(Refusal, match="Let one of them go"):
        milestones.keep(day[-1].take, by=teacher)
    Milestone.objects.all().delete()
    Analysis.objects.filter(take=day[0].take).update(audio="")
    day[0].take.analysis.refresh_from_db()
    client.force_login(teacher)
    answer = client.post(reverse("milestone", args=[day[0].take_id]))
    assert answer.status_code == 409
    assert "nothing to keep" in answer.content.decode()


def test_permission_taken_back_deletes_milestones_too(
    client, horn, teacher, played_on, django_capture_on_commit_callbacks
):
    milestones.keep(played_on[61].take, by=teacher)
    client.force_login(teacher)
    with django_capture_on_commit_callbacks(execute=True):
        client.post(reverse("person", args=[horn.player_id]), {"what": "withdraw"})
    assert kept(played_on) == set()


def test_the_owner_sets_the_days_within_bounds_and_it_is_written_down(client, studio):
    owner = people.person("Orla Keel", studio, Membership.Role.OWNER).user
    client.force_login(owner)
    sent = {"name": "Lantern Quay Studio", "time_zone": "Europe/Lisbon", "a4_hz": "442", "keep_takes_days": "30"}
    for wrong in (
        {"keep_takes_days": "6"},
        {"keep_takes_days": "181"},
        {"time_zone": "Quay/Lantern"},
        {"a4_hz": "300"},
    ):
        assert client.post(reverse("house_rules"), sent | wrong).status_code == 400
    assert client.post(reverse("house_rules"), sent).status_code == 302
    studio.refresh_from_db()
    assert (studio.keep_takes_days, studio.a4_hz) == (30, 442.0)
    assert 'value="442"' in client.get(reverse("house_rules")).content.decode()  # as people write it
    Studio.objects.update(a4_hz=442.5)
    assert 'value="442.5"' in client.get(reverse("house_rules")).content.decode()
    assert LogRow.objects.filter(what="rules", who_id=owner.pk).count() == 1


def test_a_file_whose_row_never_came_goes_a_day_later(django_capture_on_commit_callbacks):
    name = default_storage.save("ab/orphan", ContentFile(b"sound"))
    assert tidy(django_capture_on_commit_callbacks)["orphans"] == 0
    a_day_ago = time.time() - dt.timedelta(days=1, minutes=1).total_seconds()
    os.utime(default_storage.path(name), (a_day_ago, a_day_ago))
    assert tidy(django_capture_on_commit_callbacks)["orphans"] == 1
    assert [file for file in Path(default_storage.path("")).rglob("*") if file.is_file()] == []


def test_a_clock_that_runs_a_day_ahead_makes_no_orphan_of_a_file_whose_row_is_being_written(
    django_capture_on_commit_callbacks,
):
    name = default_storage.save("ab/of-this-second", ContentFile(b"sound"))
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=1, minutes=1)):
        assert tidy(django_capture_on_commit_callbacks)["orphans"] == 0
    assert default_storage.exists(name)


def test_sign_ins_and_codes_that_are_over_are_forgotten(studio, horn, teacher, django_capture_on_commit_callbacks):
    Client().force_login(horn.player.user)
    invitations.invite(Whom(role="guardian", ward=horn.player), studio=studio, by=teacher)
    tidy(django_capture_on_commit_callbacks)
    assert Session.objects.count() == Invitation.objects.count() == 1
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(days=31)):
        told = tidy(django_capture_on_commit_callbacks)
    assert (told["sign_ins"], told["codes"]) == (1, 1)
    assert Session.objects.count() == Invitation.objects.count() == 0


def test_names_that_were_typed_in_vain_are_forgotten_within_the_hour(studio, django_capture_on_commit_callbacks):
    """Somebody may have typed the passphrase where the name belongs."""
    Client().post("/sign-in/", {"username": "otter-lamp-cedar-plum", "password": "pim"})
    Client().post("/join/", {"code": "0" * 10})
    tidy(django_capture_on_commit_callbacks)
    assert AccessAttempt.objects.filter(username="otter-lamp-cedar-plum").exists()
    with time_machine.travel(dt.datetime.now(dt.UTC) + dt.timedelta(hours=1, minutes=1)):
        assert tidy(django_capture_on_commit_callbacks)["tries"] == 3  # the name, and two tries of an address
    assert not AccessAttempt.objects.exists()
    assert not CodeTry.objects.exists()
