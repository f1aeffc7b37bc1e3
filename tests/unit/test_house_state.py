"""The owner reads in words how the studio's computer is, and what to do."""

from __future__ import annotations

import datetime as dt
import os

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from analysis.models import Analysis
from assignments import backups, sweeper
from assignments.models import Take
from assignments.queries import state
from tests import people, played

pytestmark = [pytest.mark.django_db, pytest.mark.both_databases]


@pytest.fixture
def studio(tmp_path, settings):
    settings.VAR = tmp_path
    return people.studio()


@pytest.fixture
def owner(studio, client: Client) -> Client:
    client.force_login(
        people.person("Ottoline Fernsby", studio, people.Role.OWNER).user,
        backend="django.contrib.auth.backends.ModelBackend",
    )
    return client


@pytest.fixture
def takes(studio):
    week = played.long_week(people.horn(studio), people.teacher(studio).user)
    played.day(week, studio.today(), tones=((60, "mf"), (61, "mf")))
    return list(Take.objects.select_related("analysis"))


def shown(client: Client) -> str:
    return client.get(reverse("house_state")).content.decode()


def all_well() -> None:
    backups.note_file().write_text(timezone.now().isoformat())
    sweeper.sweep()


def test_on_the_first_day_the_missing_backup_is_the_one_thing_to_do(owner, monkeypatch):
    monkeypatch.setattr(state, "LEAST_ROOM", 0.0)
    sweeper.sweep()
    page = shown(owner)
    assert "Something here needs you" in page
    assert "None was made on this computer" in page
    assert "manage.py backup" in page
    assert "No take waits" in page


def test_when_all_is_well_nothing_needs_anybody(owner, monkeypatch):
    monkeypatch.setattr(state, "LEAST_ROOM", 0.0)
    all_well()
    assert "All is well" in shown(owner)


def test_a_queue_that_stands_still_is_told_with_what_to_do(owner, takes):
    old = timezone.now() - dt.timedelta(minutes=12)
    Analysis.objects.filter(pk=takes[0].analysis_id).update(state="queued", created_at=old)
    page = shown(owner)
    assert "1 take waits to be measured" in page
    assert "12" in page
    assert "Is the worker running?" in page


def test_measured_takes_that_nobody_judges_are_told_with_what_to_do(owner, takes, monkeypatch):
    monkeypatch.setattr(state, "LEAST_ROOM", 0.0)
    all_well()
    measured = timezone.now() - dt.timedelta(minutes=4)
    Analysis.objects.filter(pk=takes[0].analysis_id).update(measured_at=measured)
    Take.objects.filter(pk=takes[0].pk).update(settled_at=None)
    assert "All is well" in shown(owner)
    Analysis.objects.filter(pk=takes[0].analysis_id).update(measured_at=measured - dt.timedelta(minutes=9))
    page = shown(owner)
    assert "1 take is measured and not judged yet" in page
    assert "13\xa0minutes" in page
    assert "takes from both queues?" in page
    assert "Something here needs you" in page


def test_takes_that_were_given_up_are_shown_with_whose_they_are(owner, takes):
    Analysis.objects.filter(pk=takes[0].analysis_id).update(state="failed", fault_code="gave_up")
    page = shown(owner)
    assert "Pim Larkspur" in page
    assert reverse("take", args=[takes[0].pk]) in page
    assert "All is well" not in page


def test_a_take_given_up_long_ago_calls_nobody_any_more(studio, takes):
    Analysis.objects.filter(pk=takes[0].analysis_id).update(state="failed", fault_code="gave_up")
    Take.objects.filter(pk=takes[0].pk).update(received_at=timezone.now() - dt.timedelta(days=29))
    assert state.read(studio).given_up == (takes[0],)
    Take.objects.filter(pk=takes[0].pk).update(received_at=timezone.now() - dt.timedelta(days=31))
    assert state.read(studio).given_up == ()


def test_another_studios_takes_are_not_shown(takes, client):
    Analysis.objects.filter(pk=takes[0].analysis_id).update(state="failed")
    elsewhere = people.person("Quill Marsh", people.studio("Salt Lane Studio"), people.Role.OWNER)
    assert state.read(elsewhere.studio).given_up == ()


def test_little_room_an_old_backup_and_a_silent_sweeper_are_told(owner, monkeypatch):
    all_well()
    monkeypatch.setattr(state, "LEAST_ROOM", 1.1)
    backups.note_file().write_text((timezone.now() - dt.timedelta(hours=27)).isoformat())
    os.utime(sweeper.note_file(), (0, 0))
    page = shown(owner)
    assert "That is little" in page
    assert "One is due" in page
    assert "Is the sweeper running?" in page


def test_it_takes_a_fixed_number_of_queries(studio, takes, django_assert_num_queries):
    with django_assert_num_queries(5):
        state.read(studio)
